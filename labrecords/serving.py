"""The serving process: waitress on 127.0.0.1, and the refusals before it starts."""

import os
import socket
import tempfile

from labrecords.errors import SettingRefused

HOST = "127.0.0.1"
# Who asks, and whether by https, is what the proxy on this machine says; what comes from elsewhere is thrown away.
BEHIND_PROXY = {
    "trusted_proxy": HOST,
    "trusted_proxy_count": 1,
    "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
    "clear_untrusted_proxy_headers": True,
}


def refuse_port_in_use(port):
    if not 0 < port < 65536:
        raise SettingRefused(name="--port", value=port, rule="is not between 1 and 65535")
    with socket.socket() as probe:
        # As the server itself does: a port in TIME_WAIT is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except PermissionError:
            raise SettingRefused(
                name="--port", value=port, rule="is not open to this user; choose one above 1023"
            ) from None
        except OSError:
            raise SettingRefused(name="--port", value=port, rule="is in use on this machine; choose another") from None


def prepare_folder(folder):
    """Make the data folder, or refuse with one sentence when it cannot be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as problem:
        raise SettingRefused(
            name="--data", value=folder, rule=f"cannot be written: {os.strerror(problem.errno)}"
        ) from None


def serve(port, say):
    """Serve until Ctrl-C or SIGTERM."""
    import waitress
    from django.conf import settings

    from labrecords.wsgi import application

    say(f"Serving on http://{HOST}:{port}/ – stop with Ctrl-C.")
    proxy = BEHIND_PROXY if settings.HTTPS else {}
    waitress.serve(application, host=HOST, port=port, threads=8, ident=None, _quiet=True, **proxy)
