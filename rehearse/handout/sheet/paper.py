"""A printed page: millimetres from the top left, two bundled faces, greys only.

Everything is drawn in black and greys, so that a sheet reads the same from any printer.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from rehearse.handout.sheet.typesetting import (
    MM,
    REGULAR,
    load_faces,
    picture_face,
    run_width,
    runs,
    text_width,
)

#: Grey values, 0 black to 1 white. Text is only ever INK, DIM (8.9:1 on white) or WHITE on INK.
INK, DIM, LINE, HOLD, WHITE = 0.05, 0.29, 0.60, 0.80, 1.0
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


class Paper:
    """A PDF being drawn, page by page.

    Args:
        size: width and height in mm.
        title: of the document. subject: what it is about.
    """

    def __init__(self, size: tuple[float, float], title: str, subject: str = "") -> None:
        load_faces()
        rl_config.useA85 = 0  # binary streams: a fifth smaller, no slower to open
        self.width, self.height = size
        self._out = io.BytesIO()
        self._canvas = Canvas(
            self._out,
            pagesize=(size[0] * MM, size[1] * MM),
            pageCompression=1,
            invariant=1,
            # Otherwise every page names a face that is not embedded. (The stub says float.)
            initialFontName=REGULAR,  # type: ignore[arg-type]
        )
        self._canvas.setTitle(title)
        self._canvas.setSubject(subject)
        self._canvas.setAuthor("")
        self._canvas.setCreator("Rehearse")
        self._forms: set[str] = set()

    def end_page(self) -> None:
        """Finish the page and begin the next."""
        self._canvas.showPage()

    def finish(self) -> bytes:
        """The document."""
        self._canvas.save()
        return self._out.getvalue()

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        font: str = REGULAR,
        grey: float = INK,
        align: str = "left",
    ) -> None:
        """One line with its baseline at `y`; `x` is its left, middle or right by `align`."""
        x -= {"left": 0.0, "middle": 0.5, "right": 1.0}[align] * text_width(text, size, font)
        self._canvas.setFillGray(grey)
        for face, piece in runs(text, font):
            pictured = picture_face(face)
            if pictured is None:
                self._canvas.setFont(face, size)
                self._canvas.drawString(x * MM, (self.height - y) * MM, piece)
            else:
                image, left, foot, wide, high = pictured.picture(piece, grey)
                corner = x * MM + left * size, (self.height - y) * MM + foot * size
                self._canvas.drawImage(image, *corner, wide * size, high * size, mask="auto")
            x += run_width(piece, face, size) / MM

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: float | None = None,
        line: float | None = None,
        thick: float = 0.2,
    ) -> None:
        """A rectangle with its top left at (x, y)."""
        self._pen(line, thick)
        if fill is not None:
            self._canvas.setFillGray(fill)
        self._canvas.rect(
            x * MM,
            (self.height - y - height) * MM,
            width * MM,
            height * MM,
            stroke=int(line is not None),
            fill=int(fill is not None),
        )

    def line(
        self,
        points: Sequence[tuple[float, float]],
        *,
        grey: float = INK,
        thick: float = 0.2,
        dash: Sequence[float] = (),
    ) -> None:
        """An open line through `points`."""
        self._pen(grey, thick)
        self._canvas.setDash([d * MM for d in dash])
        path = self._path(points)
        self._canvas.drawPath(path)
        self._canvas.setDash([])

    def shape(
        self, points: Sequence[tuple[float, float]], *, fill: float, line: float | None = None
    ) -> None:
        """A filled outline."""
        self._pen(line, 0.2)
        self._canvas.setFillGray(fill)
        path = self._path(points)
        path.close()
        self._canvas.drawPath(path, stroke=int(line is not None), fill=1)

    def circle(
        self, x: float, y: float, radius: float, *, fill: float | None = None, line: float = INK
    ) -> None:
        """A circle around (x, y)."""
        self._pen(line, 0.25)
        if fill is not None:
            self._canvas.setFillGray(fill)
        self._canvas.circle(
            x * MM, (self.height - y) * MM, radius * MM, stroke=1, fill=int(fill is not None)
        )

    def holds(self, key: str) -> bool:
        """Whether a form is kept under `key`."""
        return key in self._forms

    def form(
        self, key: str, outlines: Sequence[tuple[float, Sequence[tuple[float, float]]]]
    ) -> None:
        """Keep filled outlines (grey, points in mm, y upward) under `key` for `place`."""
        self._forms.add(key)
        self._canvas.beginForm(key, -600, -600, 600, 600)
        for grey, points in outlines:
            self._canvas.setFillGray(grey)
            path = self._canvas.beginPath()
            path.moveTo(round(points[0][0] * MM, 1), round(points[0][1] * MM, 1))
            for x, y in points[1:]:
                path.lineTo(round(x * MM, 1), round(y * MM, 1))
            path.close()
            self._canvas.drawPath(path, stroke=0, fill=1)
        self._canvas.endForm()

    def place(self, key: str, x: float, y: float, scale: float) -> None:
        """Draw a kept form with its origin at (x, y)."""
        self._canvas.saveState()
        self._canvas.translate(x * MM, (self.height - y) * MM)
        self._canvas.scale(scale, scale)
        self._canvas.doForm(key)
        self._canvas.restoreState()

    def picture(self, image: ImageReader, x: float, y: float, width: float, height: float) -> None:
        """A photo inside the rectangle, whole, in its middle."""
        wide, high = image.getSize()
        scale = min(width / wide, height / high)
        w, h = wide * scale, high * scale
        self._canvas.drawImage(
            image,
            (x + (width - w) / 2) * MM,
            (self.height - y - (height + h) / 2) * MM,
            w * MM,
            h * MM,
        )

    def _pen(self, grey: float | None, thick: float) -> None:
        if grey is not None:
            self._canvas.setStrokeGray(grey)
            self._canvas.setLineWidth(thick * MM)

    def _path(self, points: Sequence[tuple[float, float]]) -> PDFPathObject:
        path = self._canvas.beginPath()
        path.moveTo(points[0][0] * MM, (self.height - points[0][1]) * MM)
        for x, y in points[1:]:
            path.lineTo(x * MM, (self.height - y) * MM)
        return path
