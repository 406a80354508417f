"""
Records as plain JSON data and back: the one form in which the journal keeps them.

Every pair of functions is exact: ``x_from_body(x_body(x)) == x``. Floats are kept to the last bit.
"""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import Any, cast

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry import mapping, shape

from registry.records.baseline import Baseline
from registry.records.entry import instant_text
from registry.records.module import Memorial, Module, ModuleType
from registry.records.permit import Area, Condition, KeepOut, Permit, Reporting
from registry.records.placement import Placement
from registry.records.position import HomePosition, Position
from registry.records.programme import Programme
from registry.records.quantity import Quantity
from registry.records.target import Target

__all__ = [
    "baseline_body",
    "baseline_from_body",
    "keep_out_body",
    "keep_out_from_body",
    "module_body",
    "module_from_body",
    "permit_body",
    "permit_from_body",
    "placement_body",
    "placement_from_body",
    "programme_body",
    "programme_from_body",
    "target_body",
    "target_from_body",
    "type_body",
    "type_from_body",
]

Body = dict[str, Any]
#: What a placement has only where instruments were brought ashore.
_ONLY_WHERE_DERIVED = ("survey", "depth")
_NOTHING_SAID = Reporting()


def programme_body(programme: Programme) -> Body:
    """Give a programme as data."""
    return asdict(programme)


def programme_from_body(body: Mapping[str, Any]) -> Programme:
    """Give back the programme."""
    return Programme(**body)


def type_body(module_type: ModuleType) -> Body:
    """Give a module type as data."""
    return asdict(module_type)


def type_from_body(body: Mapping[str, Any]) -> ModuleType:
    """Give back the module type."""
    return ModuleType(**body)


def module_body(module: Module) -> Body:
    """Give a module as data."""
    body = asdict(module)
    body["cast_on"] = module.cast_on.isoformat() if module.cast_on else None
    return body


def module_from_body(body: Mapping[str, Any]) -> Module:
    """Give back the module; the reason of an amendment is left aside."""
    data = {name: body[name] for name in Module.__dataclass_fields__}
    data["cast_on"] = date.fromisoformat(data["cast_on"]) if data["cast_on"] else None
    data["memorial"] = Memorial(**data["memorial"]) if data["memorial"] else None
    return Module(**data)


def permit_body(permit: Permit) -> Body:
    """Give a permit with its areas and conditions as data."""
    return {
        "number": permit.number,
        "authority": permit.authority,
        "valid_from": permit.valid_from.isoformat(),
        "valid_to": permit.valid_to.isoformat(),
        "chart_datum": permit.chart_datum,
        "areas": [_area_body(area) for area in permit.areas],
        "conditions": [
            {
                "rule": condition.rule,
                "cite": condition.cite,
                "limits": {name: asdict(quantity) for name, quantity in condition.limits.items()},
                "areas": list(condition.areas),
            }
            for condition in permit.conditions
        ],
        "holder": permit.holder,
        "in_force_from": permit.in_force_from.isoformat() if permit.in_force_from else None,
        "amendment": permit.amendment,
        "reporting": _stated(permit.reporting),
    }


def _stated(reporting: Reporting) -> Body:
    """Give what a permit says of reports: most say nothing, and thousands of them are read at once."""
    said = {} if reporting == _NOTHING_SAID else _fields(reporting)
    return {name: value for name, value in said.items() if value != getattr(_NOTHING_SAID, name)}


def _area_body(area: Area) -> Body:
    return {
        "area_id": area.area_id,
        "shape": mapping(area.shape),
        "edges": area.edges,
        "frame": area.frame,
        "epoch": area.epoch,
        "written": area.written,
        "operation": area.operation,
    }


def permit_from_body(body: Mapping[str, Any]) -> Permit:
    """Give back the permit; one recorded before permits had versions lacks what came with them."""
    begins, reporting = body.get("in_force_from"), body.get("reporting")
    return Permit(
        number=body["number"],
        authority=body["authority"],
        valid_from=date.fromisoformat(body["valid_from"]),
        valid_to=date.fromisoformat(body["valid_to"]),
        chart_datum=body["chart_datum"],
        areas=tuple(Area(**(area | {"shape": _outline(area["shape"])})) for area in body["areas"]),
        conditions=tuple(
            Condition(
                rule=condition["rule"],
                cite=condition["cite"],
                limits={name: Quantity(**quantity) for name, quantity in condition["limits"].items()},
                areas=tuple(condition.get("areas", ())),
            )
            for condition in body["conditions"]
        ),
        holder=body.get("holder", ""),
        in_force_from=date.fromisoformat(begins) if begins else None,
        amendment=body.get("amendment", ""),
        reporting=Reporting(**reporting) if reporting else _NOTHING_SAID,
    )


def _outline(data: Mapping[str, Any]) -> Polygon | MultiPolygon:
    """Give back the shape of an area; of a plain polygon by the short way, since there are thousands."""
    if data["type"] != "Polygon":
        return cast("MultiPolygon", shape(dict(data)))
    outer, *holes = (shapely.linearrings(ring) for ring in data["coordinates"])
    return cast("Polygon", shapely.polygons(outer, holes or None))


def keep_out_body(keep_out: KeepOut) -> Body:
    """Give a keep-out as data."""
    return {
        "keep_out_id": keep_out.keep_out_id,
        "kind": keep_out.kind,
        "name": keep_out.name,
        "setback_m": keep_out.setback_m,
        "shape": mapping(keep_out.shape),
        "frame": keep_out.frame,
        "epoch": keep_out.epoch,
        "written": keep_out.written,
        "operation": keep_out.operation,
    }


def keep_out_from_body(body: Mapping[str, Any]) -> KeepOut:
    """Give back the keep-out."""
    return KeepOut(**(dict(body) | {"shape": shape(body["shape"])}))


def baseline_body(baseline: Baseline) -> Body:
    """Give a baseline as data."""
    return _fields(baseline) | {"shape": mapping(baseline.shape)}


def baseline_from_body(body: Mapping[str, Any]) -> Baseline:
    """Give back the baseline."""
    return Baseline(**(dict(body) | {"shape": shape(body["shape"])}))


def target_body(target: Target) -> Body:
    """Give a target as data."""
    return _fields(target)


def target_from_body(body: Mapping[str, Any]) -> Target:
    """Give back the target; what it took the place of and why are left aside."""
    return Target(**{name: body[name] for name in Target.__dataclass_fields__})


def _fields(record: Any) -> Body:
    """Give the fields of a record as they are: a log of a day is too long to be copied to the depths."""
    return {name: getattr(record, name) for name in record.__dataclass_fields__}


def placement_body(placement: Placement) -> Body:
    """Give a placement as data."""
    body = _fields(placement)
    body["placed_at"] = instant_text(placement.placed_at)
    body["observed"] = _fields(placement.observed)
    body["home"] = _fields(placement.home) | {"position": _fields(placement.home.position)}
    body["basis"] = list(placement.basis)
    body["warnings"] = list(placement.warnings)
    for name in _ONLY_WHERE_DERIVED:
        if body[name] is None:
            del body[name]
    return body


def placement_from_body(body: Mapping[str, Any]) -> Placement:
    """Give back the placement; keys that are not its own (findings, reasons) are left aside."""
    needed = [name for name in Placement.__dataclass_fields__ if name not in _ONLY_WHERE_DERIVED]
    data = {name: body[name] for name in needed}
    data |= {name: body[name] for name in _ONLY_WHERE_DERIVED if name in body}
    data["placed_at"] = datetime.fromisoformat(data["placed_at"]).astimezone(UTC)
    data["observed"] = Position(**data["observed"])
    home = dict(data["home"])
    data["home"] = HomePosition(**(home | {"position": Position(**home["position"])}))
    data["basis"] = tuple(data["basis"])
    data["warnings"] = tuple(data["warnings"])
    return Placement(**data)
