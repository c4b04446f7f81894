"""GS1 keys, element strings and Digital Link URIs (GS1 General Specifications).

``keys`` proves check digits, ``identifiers`` is the table of the application identifiers (AIs)
in use here, ``elements`` writes and reads what stands in a symbol, ``links`` the same as a web
address.
"""

from rindline_schema.gs1.elements import (
    FNC1,
    Element,
    element_faults,
    element_string,
    element_text,
    parse_elements,
)
from rindline_schema.gs1.identifiers import (
    date_of_element,
    day_element,
    element_fault,
    mass_element,
    mass_of_element,
)
from rindline_schema.gs1.keys import (
    gln_fault,
    gs1_check_digit,
    gtin14,
    gtin_fault,
    is_variable_measure,
    sscc,
    sscc_fault,
)
from rindline_schema.gs1.links import DIGITAL_LINK_BASE, digital_link, parse_digital_link

__all__ = [
    "DIGITAL_LINK_BASE",
    "FNC1",
    "Element",
    "date_of_element",
    "day_element",
    "digital_link",
    "element_fault",
    "element_faults",
    "element_string",
    "element_text",
    "gln_fault",
    "gs1_check_digit",
    "gtin14",
    "gtin_fault",
    "is_variable_measure",
    "mass_element",
    "mass_of_element",
    "parse_digital_link",
    "parse_elements",
    "sscc",
    "sscc_fault",
]
