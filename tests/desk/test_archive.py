import io
import zipfile

from registry.desk.archive import archive_of


def test_the_same_files_are_the_same_bytes_and_come_back_whole():
    files = {"folder/a.txt": b"soundings\r\n" * 1000, "é.csv": b""}
    packed = archive_of(files)
    assert packed == archive_of(files)
    assert len(packed) < 2000
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert archive.testzip() is None
        assert {name: archive.read(name) for name in archive.namelist()} == files
