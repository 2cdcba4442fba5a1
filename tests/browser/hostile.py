"""A capture of which every text is hostile: markup, script, direction overrides, control characters."""

import json
import sys

EVIL = "<script>alert(1)</script><img src=x onerror=alert(2)>\u202e\u0007\u001b[31m\"'&</style></script>-->"


def spoil(value, key=""):
    if isinstance(value, dict):
        return {name: spoil(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [spoil(inner, key) for inner in value]
    # What the format or the program reads as a word of its own stays; free text goes.
    free = {"name", "driver", "firmware", "driver_version", "kernel", "text", "detail", "remedy", "what"}
    if isinstance(value, str) and key in free:
        return value + EVIL
    return value


def module_maker(text):
    """The maker's name in SFF-8472 A0h bytes 20-35, as hex of the first block."""
    data = bytearray.fromhex(text)
    data[20:36] = b"<script>alert(3)"
    return data.hex()


with open(sys.argv[1], encoding="utf-8") as source:
    capture = spoil(json.load(source))
for port in capture["ports"]:
    for block in port.get("module", {}).get("memory", []):
        if block.get("two_wire_address") == 80 and isinstance(block.get("bytes"), str):
            if len(block["bytes"]) >= 256 and block.get("offset", 0) == 0:
                block["bytes"] = module_maker(block["bytes"])
with open(sys.argv[2], "w", encoding="utf-8") as target:
    json.dump(capture, target)
