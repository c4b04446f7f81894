"""GS1 keys: the mod-10 check digit of GTIN, GLN and SSCC (GS1 General Specifications)."""

__all__ = [
    "gln_fault",
    "gs1_check_digit",
    "gtin14",
    "gtin_fault",
    "is_variable_measure",
    "sscc",
    "sscc_fault",
]


def gs1_check_digit(digits: str) -> str:
    """Give the check digit that follows ``digits``: weights 3, 1, 3 ... from the right."""
    total = sum(int(digit) * (3 if i % 2 == 0 else 1) for i, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def _is_digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _key_fault(key: str, lengths: tuple[int, ...], name: str) -> str | None:
    if len(key) not in lengths or not _is_digits(key):
        return f"{key!r} is not {name} digits"
    if gs1_check_digit(key[:-1]) != key[-1]:
        return f"{key!r} fails the GS1 check digit"
    return None


def gtin_fault(gtin: str) -> str | None:
    """Say what is wrong with a GTIN of 8, 12, 13 or 14 digits, or give None."""
    return _key_fault(gtin, (8, 12, 13, 14), "a GTIN of 8, 12, 13 or 14")


def gtin14(gtin: str) -> str:
    """Fill a GTIN of any length up to the 14 digits that a symbol holds."""
    return gtin.zfill(14)


def is_variable_measure(gtin: str) -> bool:
    """Tell whether a GTIN names goods whose measure varies: 14 digits that begin with 9."""
    return len(gtin) == 14 and gtin[0] == "9"


def gln_fault(gln: str) -> str | None:
    """Say what is wrong with a Global Location Number of 13 digits, or give None."""
    return _key_fault(gln, (13,), "a GLN of 13")


def sscc_fault(code: str) -> str | None:
    """Say what is wrong with a Serial Shipping Container Code of 18 digits, or give None."""
    return _key_fault(code, (18,), "an SSCC of 18")


def sscc(extension: int, company_prefix: str, serial: int) -> str:
    """Build an SSCC: extension digit, company prefix, serial filled to 17 digits, check digit.

    Raises ValueError if prefix and serial do not fit.
    """
    body = f"{extension}{company_prefix}{str(serial).zfill(16 - len(company_prefix))}"
    if len(body) != 17 or not _is_digits(body):
        raise ValueError(f"prefix {company_prefix!r} and serial {serial} do not make 17 digits")
    return body + gs1_check_digit(body)
