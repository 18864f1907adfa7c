"""The release sheet: its values, its reading and its writing."""

from references.release_sheet.cautions import SheetCaution, find_cautions
from references.release_sheet.drafting import (
    FeatureDraft,
    PartDraft,
    Plain,
    SheetDraft,
    draft_text,
    key_from_name,
    parse_dimension,
    parse_shares,
)
from references.release_sheet.lengths import (
    EXAMPLES,
    MM_PER_INCH,
    format_pair,
    format_sixteenths,
    format_value,
    parse_length_mm,
)
from references.release_sheet.reading import (
    find_faults,
    named_sheet,
    named_text,
    read_sheet,
    shipped_keys,
    shipped_sheet,
    shipped_text,
)
from references.release_sheet.sheet import KINDS, MEASURED_AS, Feature, Part, Sheet
from references.release_sheet.values import (
    ABSENT,
    DEFAULT_EXAMPLES,
    Counts,
    Marker,
    Normal,
    Range,
    Traits,
    Value,
    shares_of,
)
from references.release_sheet.writing import set_value

__all__ = [
    "ABSENT",
    "DEFAULT_EXAMPLES",
    "EXAMPLES",
    "KINDS",
    "MEASURED_AS",
    "MM_PER_INCH",
    "Counts",
    "Feature",
    "FeatureDraft",
    "Marker",
    "Normal",
    "Part",
    "PartDraft",
    "Plain",
    "Range",
    "Sheet",
    "SheetCaution",
    "SheetDraft",
    "Traits",
    "Value",
    "draft_text",
    "find_cautions",
    "find_faults",
    "format_pair",
    "format_sixteenths",
    "format_value",
    "key_from_name",
    "named_sheet",
    "named_text",
    "parse_dimension",
    "parse_length_mm",
    "parse_shares",
    "read_sheet",
    "set_value",
    "shares_of",
    "shipped_keys",
    "shipped_sheet",
    "shipped_text",
]
