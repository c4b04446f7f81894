"""GS1 keys: the mod-10 check digit of GTIN and SSCC (GS1 General Specifications)."""

__all__ = ["gs1_check_digit", "gtin_fault", "sscc", "sscc_fault"]

_GTIN_LENGTHS = (8, 12, 13, 14)


def gs1_check_digit(digits: str) -> str:
    """Give the check digit that follows ``digits``: weights 3, 1, 3 ... from the right."""
    total = sum(int(digit) * (3 if i % 2 == 0 else 1) for i, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def _is_digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def gtin_fault(gtin: str) -> str | None:
    """Say what is wrong with a GTIN of 8, 12, 13 or 14 digits, or give None."""
    if len(gtin) not in _GTIN_LENGTHS or not _is_digits(gtin):
        return f"{gtin!r} is not a GTIN of 8, 12, 13 or 14 digits"
    if gs1_check_digit(gtin[:-1]) != gtin[-1]:
        return f"{gtin!r} fails the GS1 check digit"
    return None


def sscc_fault(code: str) -> str | None:
    """Say what is wrong with a Serial Shipping Container Code of 18 digits, or give None."""
    if len(code) != 18 or not _is_digits(code):
        return f"{code!r} is not an SSCC of 18 digits"
    if gs1_check_digit(code[:-1]) != code[-1]:
        return f"{code!r} fails the GS1 check digit"
    return None


def sscc(extension: int, company_prefix: str, serial: int) -> str:
    """Build an SSCC: extension digit, company prefix, serial filled to 17 digits, check digit.

    Raises ValueError if prefix and serial do not fit.
    """
    body = f"{extension}{company_prefix}{serial:0{16 - len(company_prefix)}d}"
    if len(body) != 17 or not _is_digits(body):
        raise ValueError(f"prefix {company_prefix!r} and serial {serial} do not make 17 digits")
    return body + gs1_check_digit(body)
