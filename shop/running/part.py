"""One part as a program of its own: `python -m shop.running.part NAME --parent PID --socket DESCRIPTOR`."""

import argparse
import os
import socket
import sys

import django


def main() -> int:
    """Run the part until it is told to end or its parent is gone."""
    parser = argparse.ArgumentParser()
    parser.add_argument("name")
    parser.add_argument("--parent", type=int, required=True)
    parser.add_argument("--socket", type=int, required=True)
    chosen = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    django.setup()

    from django.conf import settings

    from shop.embedded.hold import Hold
    from shop.embedded.leash import call_it
    from shop.running.parts import all_parts
    from shop.running.servers import own_servers
    from shop.running.starting import end_with
    from shop.running.supervisor import exit_code

    is_page = chosen.name.startswith("web-")
    listening = socket.socket(fileno=chosen.socket) if is_page else socket.socket()
    part = next(one for one in all_parts(listening, settings.STATE, own_servers()) if one.name == chosen.name)
    call_it(f"bittern-{part.name}")
    end_with(chosen.parent, part.last_signal)
    shares = [Hold(name, settings.STATE) for name in own_servers()]
    code = exit_code(part)
    for share in shares:
        share.drop()
    return code


if __name__ == "__main__":
    sys.exit(main())
