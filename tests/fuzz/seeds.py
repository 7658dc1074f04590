"""What is damaged: the shared corpora where they are, the sample shapes, and some files made for it."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
CORPORA = ROOT.parent / "shared" / "corpora"
SAMPLES = ROOT / "sample_shapes"

ENDINGS = {
    "svg": ".svg",
    "dxf": ".dxf",
    "text": ".txt",
    "wkt": ".wkt",
    "tape": ".tape",
    "plan": ".wedgeplan",
    "photo": ".png",
}
"""Of each importer's files. Photos are of several kinds, and a wrong ending is refused."""

SHORT, LONG = 4_000, 30_000
"""Bytes of the largest seed: in the suite, and in the longer forms."""


@cache
def seeds(importer: str, largest: int = LONG) -> tuple[bytes, ...]:
    """Sound and odd files, none larger than ``largest`` bytes, always in the same order."""
    found = dict.fromkeys(data for data in _SEEDS[importer]() if len(data) <= largest)
    return tuple(found)


def _files(folder: Path, pattern: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted(folder.glob(pattern))]


# --- SVG --------------------------------------------------------------------------------------------

_SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="{0}" height="{0}" viewBox="0 0 100 100">{1}</svg>'
_DRAWN = (
    '<path id="pond" d="M10 10 h60 v-5 l20 30 c5 5 10 20 -10 30 s-20 10 -30 0 q-10 -5 -20 0 t-15 -5 '
    'a10 12 30 1 0 -9 -20 z m10 10 h10 v10 h-10 z" fill-rule="evenodd"/>',
    '<style>.a{fill:none;stroke:#000;stroke-width:2} #b{display:none}</style><rect class="a" x="5" y="5" '
    'width="40" height="30" rx="4"/><circle id="b" cx="50" cy="50" r="20"/><ellipse cx="60" '
    'cy="60" rx="9" ry="4"/>',
    '<defs><clipPath id="c"><circle cx="30" cy="30" r="25"/></clipPath><g id="g"><polygon '
    'points="0,0 40,0 20,30"/>'
    '</g></defs><use href="#g" x="10" y="10" clip-path="url(#c)"/><use href="#g" '
    'transform="rotate(45) scale(.5,2)"/>',
    '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol><use href="#s" '
    'width="50" height="40"/>'
    '<svg x="10" y="10" width="40%" height="40%" viewBox="0 0 8 4" preserveAspectRatio="xMidYMin slice">'
    '<rect width="8" height="4" transform="skewX(20) matrix(1 0 .2 1 0 0)"/></svg>',
    '<g transform="translate(10 5)" style="fill:red;opacity:.5"><polyline points="0 0 30 0 30 40"/>'
    '<line x1="1" y1="2" x2="30" y2="40" stroke="#00f"/><text>pond</text><title>Name</title></g>',
)


def _svg() -> Iterable[bytes]:
    yield from (_SVG.format(size, drawn).encode() for drawn in _DRAWN for size in ("100mm", "4in"))
    yield _SVG.format("300", "".join(_DRAWN)).encode()
    yield from _files(SAMPLES, "*.svg")
    yield from _files(CORPORA / "svg", "*.svg")


# --- DXF --------------------------------------------------------------------------------------------

_ENTITIES = (
    "LWPOLYLINE|100=AcDbEntity|8=Seam|100=AcDbPolyline|90=4|70=1|10=0|20=0|42=0.5|10=100|20=0|"
    "10=100|20=60|10=0|20=60",
    "CIRCLE|8=0|10=50|20=50|30=0|40=25",
    "LINE|8=Loose|10=0|20=0|11=50|21=0|0=LINE|8=Loose|10=50|20=0|11=25|21=40"
    "|0=ARC|8=Loose|10=12.5|20=20|40=23.58|50=57.99|51=237.99",
    "ELLIPSE|100=AcDbEntity|8=0|100=AcDbEllipse|10=200|20=0|30=0|11=50|21=0|31=0|210=0|220=0|"
    "230=1|40=0.4|41=0|42=6.283185307179586",
    "SPLINE|100=AcDbEntity|8=0|100=AcDbSpline|70=8|71=3|72=8|73=4|74=0|40=0|40=0|40=0|40=0|"
    "40=1|40=1|40=1|40=1"
    "|10=0|20=0|30=0|10=90|20=0|30=0|10=90|20=90|30=0|10=0|20=0|30=0",
    "HATCH|100=AcDbEntity|8=Hatch|100=AcDbHatch|10=0|20=0|30=0|210=0|220=0|230=-1|2=SOLID|70=1|"
    "71=0|91=2|92=2|72=1|73=1|93=4"
    "|10=0|20=0|42=0.2|10=80|20=0|10=80|20=50|10=0|20=50|97=0|92=1|93=3|72=1|10=10|20=10|11=30|21=10"
    "|72=2|10=30|20=20|40=10|50=270|51=90|73=1|72=3|10=20|20=30|11=10|21=0|40=0.5|50=0|51=180|"
    "73=1|97=0|75=0|76=1|98=0",
    "POLYLINE|8=Old|66=1|70=1|0=VERTEX|8=Old|10=0|20=0|42=-0.3|0=VERTEX|8=Old|10=70|20=0|"
    "0=VERTEX|8=Old|10=70|20=70|0=SEQEND",
    "SOLID|8=0|10=0|20=0|11=40|21=0|12=0|22=40|13=40|23=40",
    "INSERT|8=Blocks|2=SQUARE|10=5|20=5|41=2|42=-1|43=1|50=30|70=2|71=2|44=150|45=150",
)
_BLOCK = (
    "0=BLOCK|8=0|2=SQUARE|70=0|10=0|20=0|30=0|0=LWPOLYLINE|100=AcDbEntity|8=0|100=AcDbPolyline|90=4|70=1|10=0|20=0|10=40|20=0|"
    "10=40|20=40|10=0|20=40"
    "|0=INSERT|8=0|2=ROUND|10=80|20=0|0=ENDBLK|0=BLOCK|2=ROUND|10=0|20=0|0=CIRCLE|8=0|10=0|20=0|40=9|0=ENDBLK"
)


def dxf(*entities: str, unit: int = 4, version: str = "AC1015") -> bytes:
    """A text DXF drawing as small as can be; groups are written code=value, with a bar between."""
    drawn = "|".join(f"0={entity}" for entity in entities)
    groups = (
        f"0=SECTION|2=HEADER|9=$ACADVER|1={version}|9=$INSUNITS|70={unit}|0=ENDSEC"
        f"|0=SECTION|2=BLOCKS|{_BLOCK}|0=ENDSEC|0=SECTION|2=ENTITIES|{drawn}|0=ENDSEC|0=EOF"
    )
    return "".join("{:>3}\n{}\n".format(*each.split("=", 1)) for each in groups.split("|")).encode()


def _dxf() -> Iterable[bytes]:
    yield from (dxf(entity) for entity in _ENTITIES)
    yield dxf(*_ENTITIES)
    yield dxf(*_ENTITIES[:3], unit=0)
    yield dxf(_ENTITIES[0], _ENTITIES[6], version="AC1009")
    yield from _files(CORPORA / "dxf", "*.dxf")


# --- text, tape, plan, photo ------------------------------------------------------------------------


def _text() -> Iterable[bytes]:
    yield from _files(SAMPLES, "*.txt")
    yield b"0,0\n3 1/2,0\n3.5;4 3/8\n0 in;11 cm\n"
    yield (
        b"unit: cm\r\nname: Pond\r\nx;y\r\n0;0\r\n12,5;0\r\n12,5;9\r\n\r\nname: "
        b"Pond\r\n1\t1\r\n9\t1\r\n4\t8\r\n"
    )
    yield "﻿unit: in\nname: Näh 日本 👩‍🎨\n0 0\n9 9\n9 0\n0 9\n".encode()
    yield "unit: mm\n0 0\n50 0\n25 40\n".encode("utf-16")


def _wkt() -> Iterable[bytes]:
    yield from _files(SAMPLES, "*.wkt")
    yield b"unit: mm\nPOLYGON ((0 0, 90 0, 90 90, 0 90, 0 0), (20 20, 40 20, 40 40, 20 40, 20 20))\n"
    yield b"name: Both\nMULTIPOLYGON Z (((0 0 1, 50 0 1, 50 50 1)), ((60 0 1, 99 0 1, 80 40 1)))\n"
    yield b"POLYGON ((0 0, 90 90, 90 0, 0 90, 0 0))\nPOLYGON((1 1,8 1,8 9,1 1))"


def _tape() -> Iterable[bytes]:
    yield from _files(SAMPLES, "*.tape")
    yield (
        b"unit: in\nread to: 1/8\nname: Corner\nA B 12 3/8\nB C 9\nC D 12\nD A 9 1/4\nA C 15 "
        b"1/4\nB-D: 15 1/8\nbow A B 1/2\n"
    )
    yield (
        b"unit: cm\nA B 30\nB C 40\nA C 50\n\nname: L # two\nA B 30\nB C 30\nC D 15\nD E 15\nE F "
        b"15\nF A 15\nA C 42.5\nA D 33.5\nA E 21\ninward: E\n"
    )


def _plan() -> Iterable[bytes]:
    from app.plan.model import Plan
    from app.plan.plan_file import encode
    from tests.app.plan.samples import small_plan

    whole = encode(small_plan())
    yield whole
    yield encode(Plan())
    yield from _files(SAMPLES, "*.wedgeplan")
    yield from _files(ROOT / "tests" / "app" / "plan" / "kept", "*.wedgeplan")
    yield json.dumps(json.loads(whole), indent=1).encode()
    yield from _files(CORPORA / "json", "*.json")


def png(width: int, height: int) -> bytes:
    """Black, of so many pixels; where that is more than a thousand, only its header says so."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = bytes(1 + width) * height if width * height <= 1000 else b"\x00"
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = chunk(b"IHDR", head), chunk(b"IDAT", zlib.compress(rows)), chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def jpeg(width: int, height: int) -> bytes:
    """A frame that says so, with a turn flag, and a scan of nothing."""
    turn = b"Exif\x00\x00MM\x00\x2a" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, 6, 0, 0)
    frame = b"\x08" + struct.pack(">HH", height, width) + b"\x01\x01\x11\x00"
    parts = b"".join(
        b"\xff" + bytes([marker]) + struct.pack(">H", len(data) + 2) + data
        for marker, data in ((0xE1, turn), (0xC0, frame), (0xDA, b"\x01\x01\x00\x00\x3f\x00"))
    )
    return b"\xff\xd8" + parts + b"\x00\xff\x00\x7f" + b"\xff\xd9"


def heic(width: int, height: int) -> bytes:
    """The boxes on the way to its size, and no picture."""

    def box(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", 8 + len(data)) + kind + data

    size = box(b"ispe", struct.pack(">III", 0, width, height))
    meta = box(b"meta", bytes(4) + box(b"iprp", box(b"ipco", size)))
    return box(b"ftyp", b"heic\x00\x00\x00\x00mif1heic") + meta + box(b"mdat", bytes(32))


def _photo() -> Iterable[bytes]:
    from PySide6.QtGui import QColor, QImage

    from tests.photos import encoded, small_jpeg, with_turn

    image = QImage(40, 20, QImage.Format.Format_ARGB32)
    for k in range(40):
        image.setPixelColor(k, k // 2, QColor(6 * k, 99, 9, 255 - k))
    plain = encoded(image)
    yield from (with_turn(plain, turn, order) for turn, order in ((6, "<"), (3, ">"), (5, "<")))
    yield from _files(ROOT / "tests" / "app" / "window" / "photos", "*.heic")
    yield from (encoded(image, "PNG"), png(40, 20), small_jpeg(300, 200))
    for size in ((40, 20), (30_000, 30_000)):  # nothing of them can be decoded
        yield from (png(*size), jpeg(*size), heic(*size))


_SEEDS: dict[str, Callable[[], Iterable[bytes]]] = {
    "svg": _svg,
    "dxf": _dxf,
    "text": _text,
    "wkt": _wkt,
    "tape": _tape,
    "plan": _plan,
    "photo": _photo,
}
IMPORTERS = tuple(_SEEDS)

# --- words of each format ---------------------------------------------------------------------------

_SVG_WORDS = """
<g> </g> <g/> <svg> </svg> <use <rect <path <symbol <defs> <clipPath <style> </style> <![CDATA[ ]]> <!-- -->
<? ?> <!DOCTYPE <!ENTITY &lt; &#0; &#x10FFFF; &amp; xmlns= xmlns:xlink= xlink:href= href="#g" href="#s"
id="g" id="c" d="M d=" M m L l Z z A a C c S Q T H V 0 NaN inf none inherit % em ex ch rem vw mm in pt pc Q
px url(#c) url(#g) clip-path= mask= transform= rotate( scale( matrix( translate( skewX( scale(0)
scale(1e-300) scale(1e200) viewBox= width= height= points= rx= ry= x= y= r= fill-rule= evenodd nonzero
display= visibility= overflow= preserveAspectRatio= !important { } ; : @media @import * > + ~ [ ] ( ) , # .
\" ' = < > & \\ transform-origin= opacity= stroke= fill= systemLanguage= objectBoundingBox clipPathUnits=
encoding="utf-16" encoding="ascii" <?xml standalone="yes" ?> calc( auto -
"""
_DXF_WORDS = """
SECTION ENDSEC EOF HEADER TABLES BLOCKS ENTITIES OBJECTS CLASSES LWPOLYLINE POLYLINE VERTEX SEQEND CIRCLE
ARC ELLIPSE SPLINE HATCH MPOLYGON INSERT LINE SOLID TRACE BLOCK ENDBLK TEXT MTEXT DIMENSION POINT 3DFACE
MLINE LEADER REGION ACAD_TABLE ATTRIB ATTDEF VIEWPORT IMAGE ACAD_PROXY_ENTITY $ACADVER $INSUNITS
$DWGCODEPAGE AC1009 AC1015 AC1021 AC1032 AC9999 ANSI_1252 ANSI_936 SQUARE ROUND *Model_Space AcDbEntity
AcDbPolyline AcDbHatch AcDbSpline 100 102 330 360 {ACAD_REACTORS 1070 1000 1001 ACAD 0 2 5 8 10 20 30 40 41
42 50 70 71 90 91 92 93 210 230 -1 999 310 \\U+FFFF \\M+1 TABLE LAYER ENDTAB
"""
_TEXT_WORDS = """
unit: name: in cm mm inch " ' 1/2 3/8 1/0 0/0 -1/2 ½ ⅜ x;y x,y , ; -0 e+ E NaN inf POLYGON MULTIPOLYGON EMPTY
Z M ZM ( ) (( )) ),( # A B C D Z a b A-A A-B bow inward read to: to – = +
"""
_BLANKS = (
    "\t", "\r", "\r\n", "\n", "\n\n", "\x0b", "\x0c", "\x85", "\u2028", "\u00a0", "\u200b", "\ufeff", "\x00"
)  # fmt: skip
_PLAN_WORDS = """
null true false [ ] { } [] {} "" " : , "wedgeplan" "plan" "patches" "checksum" "outline" "holes" "anchors"
"settings" "tries" "name" "repeats" "gap" "title" "unit_style" "cloth" "thread" "thread_width" "side_spans"
"own_marks" "merged_spans" "start" "echo_count" "spans_per_side" \\ud800 \\u0000 \\u2028 "A" "AB" "#FFFFFF"
"#zzzzzz" NaN -Infinity 1e400 -0 0.0 1.5 [[0,0],[9,9],[9,0],[0,9]]
"""
_PHOTO_WORDS = (
    b"IHDR IDAT IEND PLTE tRNS gAMA iCCP tEXt eXIf Exif II MM JFIF ispe ftyp meta iprp ipco ipma irot imir "
    b"pixi hvcC iloc iinf infe pitm mdat heic mif1 grid"
)


_OF_TEXTS = tuple(word.encode() for word in (*_TEXT_WORDS.split(), *_BLANKS))

WORDS: dict[str, tuple[bytes, ...]] = {
    "svg": (*_SVG_WORDS.encode().split(), b"\xff\xfe", b"\xef\xbb\xbf", b"\x00"),
    "dxf": (
        *_DXF_WORDS.encode().split(),
        b"\n  0\n",
        b"\n",
        b"\r\n",
        b"\x1a",
        b"AutoCAD Binary DXF\r\n\x1a\x00",
    ),
    "text": _OF_TEXTS,
    "wkt": _OF_TEXTS,
    "tape": _OF_TEXTS,
    "plan": (*_PLAN_WORDS.encode().split(), b"\xff", b"\xef\xbb\xbf", b"\x00", b"[" * 500),
    "photo": (
        *_PHOTO_WORDS.split(),
        b"\xff\xd8",
        b"\xff\xc0",
        b"\xff\xda",
        b"\xff\xd9",
        *(bytes((255, marker)) for marker in (0xC2, 0xC4, 0xDB, 0xDD, 0xE1, 0xEE)),
        bytes(4),
        b"\xff" * 4,
    ),
}
