"""Files are replaced whole; what cannot be replaced is written to as it is."""

import os
import stat
import threading

import pytest

from scenes.errors import ReadingsError
from scenes.readings.write import replace_text


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_named_pipe_stays_a_pipe(tmp_path):
    pipe, heard = tmp_path / "pipe", []
    os.mkfifo(pipe)
    listener = threading.Thread(target=lambda: heard.append(pipe.read_text(encoding="utf-8")), daemon=True)
    listener.start()
    replace_text(pipe, "station\n")
    listener.join(timeout=5)
    assert heard == ["station\n"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_folder_is_refused_with_its_name(tmp_path):
    with pytest.raises(ReadingsError, match="cannot be written"):
        replace_text(tmp_path, "station\n")
