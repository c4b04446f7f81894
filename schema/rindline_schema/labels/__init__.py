"""What a label says and which symbols it carries: pure, so that every side writes the same label.

``make_label`` turns facts (lot or case, product, site, mass, days) into a :class:`LabelContent`;
drawing it is another matter and not done here. Sizes are in millimetres.
"""

from rindline_schema.labels.best_before import BestBefore, BestBeforeForm, best_before
from rindline_schema.labels.content import (
    LabelContent,
    LabelField,
    LabelKind,
    LabelMark,
    LabelSymbol,
    SymbolKind,
)
from rindline_schema.labels.facts import CaseContent, LabelFacts, label_fault
from rindline_schema.labels.making import make_label
from rindline_schema.labels.marks import identification_mark
from rindline_schema.labels.sizes import LABEL_SIZES, LabelSize
from rindline_schema.labels.words import WORDS, Words

__all__ = [
    "LABEL_SIZES",
    "WORDS",
    "BestBefore",
    "BestBeforeForm",
    "CaseContent",
    "LabelContent",
    "LabelFacts",
    "LabelField",
    "LabelKind",
    "LabelMark",
    "LabelSize",
    "LabelSymbol",
    "SymbolKind",
    "Words",
    "best_before",
    "identification_mark",
    "label_fault",
    "make_label",
]
