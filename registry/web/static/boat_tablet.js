// The tablet's own position: only in a secure context, and only when somebody asks for it.
const box = document.getElementById("tablet"), none = document.getElementById("tablet-none");
const form = document.getElementById("drop"), radio = form.querySelector("input[name=how][value=tablet]");
const part = (name) => document.getElementById(`tablet-${name}`);
const LONG_ENOUGH_MS = 15000;

if (window.isSecureContext && "geolocation" in navigator) {
  none.hidden = true;
  box.hidden = false;
  let watch = 0;
  const stop = () => { navigator.geolocation.clearWatch(watch); part("take").disabled = false; };
  const late = () => { stop(); if (!form.elements.tablet_instant.value) part("trouble").textContent = "The tablet gives no position (nothing has come; is it allowed to?)."; };
  part("take").onclick = () => {
    radio.checked = true;
    part("take").disabled = true;
    part("trouble").textContent = "";
    setTimeout(late, LONG_ENOUGH_MS);
    watch = navigator.geolocation.watchPosition(({ coords, timestamp }) => {
      for (const name of ["latitude", "longitude", "accuracy"]) form.elements[`tablet_${name}`].value = String(coords[name]);
      form.elements.tablet_instant.value = new Date(timestamp).toISOString();
      part("r95").textContent = `${coords.accuracy < 10 ? Math.ceil(coords.accuracy * 10) / 10 : Math.ceil(coords.accuracy)} m`;
      part("place").textContent = `${coords.latitude.toFixed(6)}, ${coords.longitude.toFixed(6)} (WGS 84)`;
    }, (fault) => { stop(); part("trouble").textContent = `The tablet gives no position (${fault.message}).`; }, { enableHighAccuracy: true, maximumAge: 0, timeout: LONG_ENOUGH_MS });
  };
} else {
  none.textContent = window.isSecureContext ? "This browser knows no position." : "Not here: a browser gives the tablet’s own position only over TLS. Start the server with leadline serve --tls, or use the receiver or the plotter.";
  radio.disabled = true;
}
