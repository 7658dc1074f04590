"""Changes of a plan's photo, as ``changes`` has those of its patches: pure functions, plan in, change out."""

from __future__ import annotations

from msgspec.structs import replace

from app.plan.model import Plan
from app.plan.photo import CORNERS, MAX_OTHERS, KnownPlace, Photo
from app.plan.photo_header import PhotoError
from app.sketch.changes import Change
from app.sketch.translate import tr
from geometry.types import Point


def letter(number: int) -> str:
    """The name of a place in the photo: A to D are the corners."""
    return chr(ord("A") + number)


def open_photo(plan: Plan, data: bytes) -> Change:
    """Lay the photo whose JPEG is ``data`` beneath the patches, in place of one that is there."""
    return _with(plan, tr("Open photo"), Photo(data=data))


def take_out(plan: Plan) -> Change:
    """The plan without its photo."""
    return _with(plan, tr("Take the photo out"), None)


def add_spot(plan: Plan, at: Point) -> Change:
    """Show the next corner at ``at``, pixels, or a further place where all corners are shown. Raises
    ``PhotoError`` where there are too many.
    """
    photo = _photo(plan)
    name = letter(len(photo.spots))
    if len(photo.corners) < CORNERS:
        return _with(
            plan,
            tr("Show corner {name}", name=name),
            replace(photo, corners=(*photo.corners, _inside(photo, at))),
        )
    if len(photo.others) == MAX_OTHERS:
        raise PhotoError(tr("there is no letter left for another place"), do=tr("take one out first"))
    others = (*photo.others, KnownPlace(at=_inside(photo, at)))
    return _with(plan, tr("Show place {name}", name=name), replace(photo, others=others))


def move_spot(plan: Plan, number: int, at: Point, *, by_key: bool = False) -> Change:
    """Put corner or place ``number`` at ``at``, pixels. Presses of keys one after another are one step."""
    photo, at = _photo(plan), _inside(_photo(plan), at)
    name = tr("Move {name} in the photo", name=letter(number))
    if number < CORNERS:
        corners = (*photo.corners[:number], at, *photo.corners[number + 1 :])
        moved = replace(photo, corners=corners)
    else:
        moved = _other(photo, number, replace(photo.others[number - CORNERS], at=at))
    return _with(plan, name, moved, f"photo {number}" if by_key else None)


def remove_spot(plan: Plan, number: int) -> Change:
    """Take place ``number`` out again; of the corners only the last, while no further places are shown.
    Raises ``PhotoError`` for others.
    """
    photo = _photo(plan)
    name = tr("Take {name} out of the photo", name=letter(number))
    if number >= CORNERS:
        n = number - CORNERS
        return _with(plan, name, replace(photo, others=photo.others[:n] + photo.others[n + 1 :]))
    if number != len(photo.spots) - 1:
        raise PhotoError(tr("corner {name} is needed", name=letter(number)), do=tr("drag it instead"))
    return _with(plan, name, replace(photo, corners=photo.corners[:-1]))


def tell_size(plan: Plan, size: Point | None) -> Change:
    """Say how far it is from A to B, and from A to D, mm. Raises ``PhotoError`` where that cannot be."""
    return _with(plan, tr("Size in the photo"), replace(_photo(plan), size=size))


def tell_place(plan: Plan, number: int, place: Point) -> Change:
    """Say where place ``number`` lies on the cloth, mm across and down from A."""
    photo = _photo(plan)
    name = tr("Where {name} lies", name=letter(number))
    other = replace(photo.others[number - CORNERS], place=place)
    return _with(plan, name, _other(photo, number, other))


# ----------------------------------------------------------------------------------------------------


def _photo(plan: Plan) -> Photo:
    if plan.photo is None:
        raise PhotoError(tr("the plan has no photo"), do=tr("open one first"))
    return plan.photo


def _inside(photo: Photo, at: Point) -> Point:
    """``at``, or the nearest place to it in the photo."""
    return (min(max(at[0], 0.0), float(photo.width)), min(max(at[1], 0.0), float(photo.height)))


def _other(photo: Photo, number: int, other: KnownPlace) -> Photo:
    n = number - CORNERS
    return replace(photo, others=(*photo.others[:n], other, *photo.others[n + 1 :]))


def _with(plan: Plan, name: str, photo: Photo | None, merge_key: str | None = None) -> Change:
    return Change(name, plan, replace(plan, photo=photo), merge_key)
