"""Labels with GS1 symbols, as SVG, PNG or PDF, on paper or in a file; no network is needed.

Install the extra ``rindline[labels]``. What a label says is made by
:func:`rindline_schema.labels.make_label`; this package draws and prints it. For a product's and
site's entries with no network, keep a :class:`RegisterCache`.
"""

from rindline.labels._errors import LabelError, PrintError
from rindline.labels._printing import print_label
from rindline.labels._register_cache import RegisterCache
from rindline.labels._rendering import LabelFormat, render_label
from rindline_schema.labels import LABEL_SIZES, LabelContent, LabelFacts, LabelSize, make_label

__all__ = [
    "LABEL_SIZES",
    "LabelContent",
    "LabelError",
    "LabelFacts",
    "LabelFormat",
    "LabelSize",
    "PrintError",
    "RegisterCache",
    "make_label",
    "print_label",
    "render_label",
]
