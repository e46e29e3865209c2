"""Prints every 1-Wire temperature sensor on one pin of a MicroPython board, for seedclock.

A line a sensor each ten seconds, "28-3d7de20264ff,21.5625*DE", on the board's USB. Copy this file to the board as main.py.
Sensors: DS18B20 and its kind, three wires each: ground, 3.3 V, data; all data wires on pin PIN, with one resistor of
4.7 kilo-ohm from data up to 3.3 V. Not run on hardware by its authors: hold it against ice water before you trust it.
"""

PIN = 4
EVERY_MS = 10_000
CONVERSION_MS = 750
THERMOMETERS = (0x10, 0x22, 0x28, 0x3B, 0x42)
HALF_DEGREES = 0x10


def crc8(data):
    """CRC-8/MAXIM: b"123456789" gives 0xA1 (Maxim application note 27)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0x8C if crc & 1 else crc >> 1
    return crc


def name_of(rom):
    """The sensor's number as Linux writes it: family, dash, the six serial bytes from the last to the first."""
    return "%02x-%s" % (rom[0], "".join("%02x" % rom[at] for at in range(6, 0, -1)))


def sixteenths_of(family, pad):
    """The temperature in sixteenths of a degree; None where the answer is damaged or is a shorted line's, whose zeros satisfy the CRC."""
    if not any(pad) or crc8(pad[:8]) != pad[8]:
        return None
    raw = pad[1] << 8 | pad[0]
    if raw & 0x8000:
        raw -= 0x10000
    return raw * 8 if family == HALF_DEGREES else raw


def celsius(sixteenths):
    """Four digits hold a sixteenth exactly."""
    whole, rest = divmod(abs(sixteenths), 16)
    return "%s%d.%04d" % ("-" if sixteenths < 0 else "", whole, rest * 625)


def line_of(rom, pad):
    """Name, comma, temperature or "nan", star, CRC of all before the star."""
    sixteenths = sixteenths_of(rom[0], pad)
    body = "%s,%s" % (name_of(rom), "nan" if sixteenths is None else celsius(sixteenths))
    return "%s*%02X" % (body, crc8(body.encode()))


def read_pad(bus, rom):
    """A sensor's nine bytes; zeros where it does not answer."""
    if not bus.reset():
        return bytes(9)
    bus.select_rom(rom)
    bus.writebyte(0xBE)
    return bytes(bus.readbyte() for _ in range(9))


def run():
    import machine
    import onewire
    import time

    bus = onewire.OneWire(machine.Pin(PIN))
    while True:
        begun = time.ticks_ms()
        roms = [rom for rom in bus.scan() if rom[0] in THERMOMETERS and crc8(rom[:7]) == rom[7]]
        if not roms:
            print("# no sensor answers: see to the data wire, its resistor and the supply")
        elif bus.reset():
            bus.writebyte(0xCC)
            bus.writebyte(0x44)
            time.sleep_ms(CONVERSION_MS)
        for rom in roms:
            print(line_of(rom, read_pad(bus, rom)))
        time.sleep_ms(max(0, EVERY_MS - time.ticks_diff(time.ticks_ms(), begun)))


if __name__ == "__main__":
    run()
