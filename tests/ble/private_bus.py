"""A private message bus for tests: its own dbus-daemon and socket; the machine's own bus is not touched."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

OPEN_POLICY = """
  <policy context="default">
    <allow user="*"/> <allow own="*"/>
    <allow send_type="method_call"/> <allow send_type="signal"/>
    <allow send_requested_reply="true" send_type="method_return"/> <allow send_requested_reply="true" send_type="error"/>
    <allow receive_type="method_call"/> <allow receive_type="signal"/>
    <allow receive_type="method_return"/> <allow receive_type="error"/>
  </policy>"""
DENIES_BLUETOOTH = OPEN_POLICY.replace("</policy>", '  <deny send_destination="org.bluez"/>\n  </policy>')
"""What a user meets who is not in the group that may use Bluetooth."""
REFUSES_EVERYBODY = "\n  <auth>ANONYMOUS</auth>" + OPEN_POLICY
"""Only anonymous logins: the login by user id, the one that bleak uses, is refused."""


class PrivateBus:
    """One dbus-daemon. ``address`` is what DBUS_SYSTEM_BUS_ADDRESS takes."""

    def __init__(self, policy: str = OPEN_POLICY) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="bus-"))  # short: the name of a socket has at most 107 characters
        self.socket = self._folder / "bus"
        self.address = f"unix:path={self.socket}"
        config = self._folder / "bus.conf"
        config.write_text(
            '<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"\n'
            ' "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">\n'
            f"<busconfig>\n  <type>system</type>\n  <listen>{self.address}</listen>{policy}\n</busconfig>\n"
        )
        command = ["dbus-daemon", f"--config-file={config}", "--nofork", "--nopidfile", "--print-address=1"]
        self._daemon = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert self._daemon.stdout is not None
        if not self._daemon.stdout.readline():  # the daemon prints its address once it listens
            raise RuntimeError(f"dbus-daemon did not start: {self._daemon.communicate()[1]}")

    def kill(self) -> None:
        """The daemon dies at once and leaves its socket file behind."""
        self._daemon.kill()
        self._daemon.communicate()

    def stop(self) -> None:
        """Stop the daemon and remove its folder; may be called twice, and after kill()."""
        if self._daemon.poll() is None:
            self._daemon.terminate()
            self._daemon.communicate()
        shutil.rmtree(self._folder, ignore_errors=True)
