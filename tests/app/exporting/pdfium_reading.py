"""The same as ``pdf_reading``, by PDFium: a second reader that shares no code with the first."""

from __future__ import annotations

import ctypes

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

from tests.app.exporting.pdf_reading import MM, Drawn, Page


def pages_by_pdfium(data: bytes) -> list[Page]:
    """Its numbers have single precision: 1e-4 mm here."""
    document = pypdfium2.PdfDocument(data)
    pages = [_page(document[number]) for number in range(len(document))]
    document.close()
    return pages


def _page(page: pypdfium2.PdfPage) -> Page:
    height = page.get_height()
    read = Page(page.get_width() * MM, height * MM)
    for each in page.get_objects([pdfium.FPDF_PAGEOBJ_PATH]):
        read.drawn.append(_drawn(each, height))
    for word in _words(page.get_textpage()):
        boxes = np.array([box for _, box in word])
        x, y = (boxes[:, :2].min(axis=0) + boxes[:, 2:].max(axis=0)) / 2
        read.words.append(("".join(letter for letter, _ in word), x * MM, (height - y) * MM))
    read.text = " ".join(word for word, *_ in read.words)
    return read


def _words(text: pypdfium2.PdfTextPage) -> list[list[tuple[str, tuple[float, ...]]]]:
    """Letters and their boxes in points; a word ends with a blank, or where the next letter is far away."""
    words: list[list[tuple[str, tuple[float, ...]]]] = [[]]
    for number in range(text.count_chars()):
        letter, box = text.get_text_range(number, 1), text.get_charbox(number)
        last = words[-1][-1][1] if words[-1] else box
        if not letter.strip() or abs(box[0] - last[2]) > 6 or abs(box[1] - last[1]) > 6:
            words.append([])
        if letter.strip():
            words[-1].append((letter, box))
    return [word for word in words if word]


def _drawn(path: pypdfium2.PdfObject, height: float) -> Drawn:
    matrix = path.get_matrix()
    points, kinds, closed = [], set(), False
    for number in range(pdfium.FPDFPath_CountSegments(path)):
        segment = pdfium.FPDFPath_GetPathSegment(path, number)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        kinds.add(pdfium.FPDFPathSegment_GetType(segment))
        closed |= bool(pdfium.FPDFPathSegment_GetClose(segment))
        at = matrix.on_point(x.value, y.value)
        points.append((at[0] * MM, (height - at[1]) * MM))
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(path, fill, stroke)
    channels = [ctypes.c_uint() for _ in range(4)]
    pdfium.FPDFPageObj_GetStrokeColor(path, *channels)
    width = ctypes.c_float()
    pdfium.FPDFPageObj_GetStrokeWidth(path, width)
    return Drawn(
        np.array(points),
        closed,
        pdfium.FPDF_SEGMENT_BEZIERTO in kinds,
        bool(stroke.value),
        "#" + "".join(f"{channel.value:02X}" for channel in channels[:3]),
        width.value * abs(matrix.get()[0]) * MM,
        pdfium.FPDFPageObj_GetDashCount(path) > 0,
    )
