"""Says by its exit code whether the server in this container is ready to answer."""

import http.client
import os
import sys

_TIMEOUT_S = 3.0


def main() -> int:
    """0 when `/health/ready` answers 200 within the time, else 1."""
    port = int(os.environ.get("RINDLINE_PORT", "8040"))
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=_TIMEOUT_S)
    try:
        connection.request("GET", "/health/ready")
        status = connection.getresponse().status
    except (OSError, http.client.HTTPException) as error:
        sys.stderr.write(f"no answer: {error}\n")
        return 1
    finally:
        connection.close()
    return 0 if status == http.client.OK else 1


if __name__ == "__main__":
    sys.exit(main())
