"""The photo in the plan, and in its file."""

from __future__ import annotations

import base64
import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from app.plan.model import Plan
from app.plan.photo import LONGEST_SIDE, MAX_PHOTO_BYTES, KnownPlace, Photo
from app.plan.photo_header import PhotoError
from app.plan.plan_file import ChangedOutside, PlanFileError, encode, read_plan, write_plan
from tests.app.plan.samples import small_plan
from tests.photos import BLOCK, SEEN, jpeg_header, png_header, small_jpeg

pytestmark = pytest.mark.usefixtures("qapp")


def _photo(**others: object) -> Photo:
    return Photo(data=jpeg_header(2000, 1500), **others)  # type: ignore[arg-type]


def _told() -> Photo:
    places = (KnownPlace(at=(900.0, 700.0), place=(150.0, 140.0)), KnownPlace(at=(500.0, 500.0)))
    return _photo(corners=SEEN, size=(BLOCK, BLOCK), others=places)


def test_round_trip(tmp_path: Path) -> None:
    path = tmp_path / "a.wedgeplan"
    for photo in (_photo(), _photo(corners=SEEN[:2]), _told(), Photo(data=small_jpeg())):
        plan = Plan(title="With a photo", photo=photo)
        write_plan(path, plan)
        back = read_plan(path)
        assert back == plan
        assert back.photo is not None
        assert back.photo.key == hashlib.sha256(photo.data).hexdigest()


def test_a_plan_without_one_is_written_as_ever() -> None:
    plan = small_plan()
    before = encode(plan)
    assert b"photo" not in before
    assert encode(replace(plan, photo=_photo())) != before
    assert encode(replace(plan, photo=None)) == before
    # As it was written before there were photos.
    assert encode(Plan(title="Trial")) == (
        b'{"wedgeplan": 1,\n'
        b'"checksum": "e1ae9839529010cf0e559b7079335604748fd6403605d39c16fa5ae18941ac73",\n'
        b'"plan": {"title": "Trial", "patches": [\n'
        b"\n"
        b"]}}\n"
    )


def test_squared_as_the_camera_saw_it() -> None:
    photo = _photo(corners=SEEN, size=(BLOCK, BLOCK))
    assert photo.squared is not None
    places = photo.squared.on_cloth(np.array(SEEN))
    np.testing.assert_allclose(places, [(0, 0), (BLOCK, 0), (BLOCK, BLOCK), (0, BLOCK)], atol=1e-6)
    assert _told().known == (0, 1, 2, 3, 4)  # what is not told does not count
    assert _photo(corners=SEEN).squared is None
    assert _photo(size=(BLOCK, BLOCK)).squared is None


@pytest.mark.parametrize(
    "change",
    [
        {"data": b""},
        {"data": png_header(64, 48)},
        {"data": jpeg_header(LONGEST_SIDE + 1, 48)},
        {"data": jpeg_header(64, 48)[:-2]},
        {"data": jpeg_header(64, 48) + bytes(MAX_PHOTO_BYTES)},
        {"corners": (*SEEN, (5.0, 5.0))},
        {"corners": ((float("nan"), 1.0),)},
        {"corners": ((2001.0, 1.0),)},
        {"corners": ((1.0, -0.5),)},
        {"size": (0.0, 5.0)},
        {"size": (float("inf"), 5.0)},
        {"size": (10_001.0, 5.0)},
        {"others": (KnownPlace(at=(5.0, 5.0)),)},
        {"corners": SEEN, "others": tuple(KnownPlace(at=(5.0, 5.0)) for _ in range(23))},
        {"corners": SEEN, "others": (KnownPlace(at=(5.0, 5.0), place=(float("nan"), 0.0)),)},
    ],
)  # fmt: skip
def test_refused(change: dict[str, object]) -> None:
    with pytest.raises(PhotoError) as caught:
        Photo(**{"data": jpeg_header(2000, 1500), **change})  # type: ignore[arg-type]
    assert caught.value.do


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda body: body.update(data="no base 64!"), "the text that stands for the photo is damaged"),
        (lambda body: body.update(data=base64.b64encode(b"<html>").decode()), "neither JPEG, PNG nor HEIC"),
        (lambda body: body.update(data=base64.b64encode(jpeg_header(9000, 9000)).decode()), "2400 pixels"),
        (lambda body: body.update(data=5), "photo"),
        (lambda body: body.update(other=5), "is not part of a plan"),
        (lambda body: body.update(corners=[[1, 2, 3]]), "2 values belong here"),
        (lambda body: body.update(size=[0, 5]), "without a size"),
    ],
)
def test_damaged_files(tmp_path: Path, damage: object, words: str) -> None:
    """Said in one sentence with the place in the file."""
    path = tmp_path / "a.wedgeplan"
    whole = json.loads(encode(Plan(photo=_told())))
    damage(whole["plan"]["photo"])  # type: ignore[operator]
    path.write_text(json.dumps(whole))
    with pytest.raises(PlanFileError) as caught:
        read_plan(path, accept_changed=True)
    assert words in str(caught.value)
    assert "photo" in str(caught.value)


def test_a_changed_photo_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "a.wedgeplan"
    whole = json.loads(encode(Plan(photo=_photo())))
    whole["plan"]["photo"]["data"] = base64.b64encode(jpeg_header(2000, 1400)).decode()
    path.write_text(json.dumps(whole))
    with pytest.raises(ChangedOutside):
        read_plan(path)
