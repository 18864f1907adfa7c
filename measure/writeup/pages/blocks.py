"""What a document is made of; each page writer turns the same blocks into its own format."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the document's title."""

    level: int
    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; a `lead` states the result, a `caution` warns, `small` is for notes."""

    text: str
    style: str = "body"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Labels with their values."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first row is its header, and `weights` divide the width.

    `numbers` names the columns that hold figures, which are right-aligned.
    """

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    weights: tuple[float, ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo or close-up.

    Attributes
    ----------
    file : str
        Name in the folder.
    data : bytes
        The encoded picture.
    size_px : (width, height)
        Of the picture.
    alt, caption : str
        What it shows, for those who can't see it; and the line below it.
    width_mm : float
        Width on paper.
    """

    file: str
    data: bytes
    size_px: tuple[int, int]
    alt: str
    caption: str
    width_mm: float


@dataclass(frozen=True, slots=True)
class Gallery:
    """Pictures side by side where the page is wide enough."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart.

    Attributes
    ----------
    file : str
        Name in the folder, without ending.
    svg, outlined_svg, png : bytes
        With real text for a browser; with text as outlines for print; and as pixels for a listing.
    size_mm : (width, height)
        On paper.
    alt, caption : str
        As for a picture.
    """

    file: str
    svg: bytes
    outlined_svg: bytes
    png: bytes
    size_mm: tuple[float, float]
    alt: str
    caption: str


Block = Heading | Paragraph | Bullets | Facts | Table | Picture | Gallery | Chart


@dataclass(frozen=True, slots=True)
class Document:
    """Blocks in order, with what the file's own metadata says.

    Attributes
    ----------
    title, subject : str
        For the metadata.
    program : str
        Program and version.
    date : str
        ISO date, or nothing where none is recorded.
    blocks : tuple of Block
    """

    title: str
    subject: str
    program: str
    date: str
    blocks: tuple[Block, ...]
