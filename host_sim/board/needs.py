"""The libraries that only `alula board` needs, asked for when it runs."""

from types import ModuleType

from host_sim.errors import UsageError


def mpremote() -> ModuleType:
    """mpremote's serial transport; UsageError where it is not installed."""
    try:
        from mpremote import transport_serial
    except ImportError as error:
        raise UsageError("alula board needs mpremote: pip install 'alula[board]'") from error
    return transport_serial


def list_ports() -> ModuleType:
    """pyserial's list of ports (it comes with mpremote); UsageError where it is not installed."""
    try:
        from serial.tools import list_ports as found
    except ImportError as error:
        raise UsageError("alula board needs mpremote: pip install 'alula[board]'") from error
    return found
