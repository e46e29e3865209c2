// Prints every 1-Wire temperature sensor on one pin of an ATmega328P board (16 MHz), for seedclock: a line a sensor each ten
// seconds, "28-3d7de20264ff,21.5625*DE", at 9600 8N1. Needs no library.
//
// Sensors: DS18B20 and its kind, three wires each: ground, 5 V, data; all data wires on digital pin 2 (PD2), with one resistor of
// 4.7 kilo-ohm from data up to 5 V. Tried in an emulator, not on hardware: hold it against ice water before you trust it.
//
// In a board's own editor: open this file and load it up. Without one:
//   avr-gcc -mmcu=atmega328p -DF_CPU=16000000UL -Os -Wall -Wextra -x c eight_bit_board.ino -o board.elf
// With -DREHEARSAL it prints made-up answers of sensors instead, through the same code, so that the way to the computer can be tried.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>
#include <util/delay.h>

#include "reading.h"

#define BAUD 9600UL
#define DATA_BIT (1 << PD2)
#define EVERY_SECONDS 10
#define CONVERSION_MS 750
#define MOST_SENSORS 16

static void print(const char *text) {
    for (; *text; text++) {
        while (!(UCSR0A & (1 << UDRE0))) {}
        UDR0 = (uint8_t)*text;
    }
}

#ifndef REHEARSAL
// The bus is never driven high: the resistor does that.
static void pull_down(void) { PORTD &= (uint8_t)~DATA_BIT; DDRD |= DATA_BIT; }
static void let_go(void) { DDRD &= (uint8_t)~DATA_BIT; PORTD &= (uint8_t)~DATA_BIT; }
static bool is_high(void) { return PIND & DATA_BIT; }

// Whether any sensor answers.
static bool reset_bus(void) {
    bool answered = false;
    pull_down();
    _delay_us(480);
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        let_go();
        _delay_us(70);
        answered = !is_high();
    }
    _delay_us(410);
    return answered;
}

static void write_bit(bool bit) {
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        pull_down();
        if (bit) _delay_us(6); else _delay_us(60);
        let_go();
        if (bit) _delay_us(64); else _delay_us(10);
    }
}

static bool read_bit(void) {
    bool bit = false;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        pull_down();
        _delay_us(6);
        let_go();
        _delay_us(9);
        bit = is_high();
        _delay_us(55);
    }
    return bit;
}

static void write_byte(uint8_t value) {
    for (uint8_t bit = 0; bit < 8; bit++) write_bit(value >> bit & 1);
}

static uint8_t read_byte(void) {
    uint8_t value = 0;
    for (uint8_t bit = 0; bit < 8; bit++) if (read_bit()) value |= (uint8_t)(1 << bit);
    return value;
}

// Walks the tree of numbers on the bus. `from` is where two ways were left open the last time, 0 at the beginning; gives where
// they are now, 0 at the end. A number that is read wrong is left out.
static uint8_t next_rom(uint8_t *rom, uint8_t from, bool *found) {
    uint8_t open = 0;
    *found = false;
    if (!reset_bus()) return 0;
    write_byte(0xF0);
    for (uint8_t number = 1; number <= 64; number++) {
        uint8_t at = (uint8_t)((number - 1) / 8), mask = (uint8_t)(1 << (number - 1) % 8);
        bool zero = !read_bit(), one = !read_bit();
        if (!zero && !one) return 0;
        bool way = one;
        if (zero && one) {
            way = number == from || (number < from && (rom[at] & mask));
            if (!way) open = number;
        }
        if (way) rom[at] |= mask; else rom[at] &= (uint8_t)~mask;
        write_bit(way);
    }
    *found = crc8(rom, ROM_BYTES - 1) == rom[ROM_BYTES - 1] && rom[0] != 0;
    return open;
}

// The families of thermometers: 18S20, 1822, 18B20, 1825, 28EA00.
static bool is_thermometer(uint8_t family) {
    return family == 0x10 || family == 0x22 || family == 0x28 || family == 0x3B || family == 0x42;
}

static void print_all(void) {
    uint8_t rom[ROM_BYTES] = {0}, pad[PAD_BYTES], from = 0, sensors = 0;
    char line[LINE_BYTES];
    if (!reset_bus()) {
        print("# no sensor answers: see to the data wire, its resistor and the supply\r\n");
        return;
    }
    write_byte(0xCC);
    write_byte(0x44);
    _delay_ms(CONVERSION_MS);
    do {
        bool found;
        from = next_rom(rom, from, &found);
        if (!found || !is_thermometer(rom[0])) continue;
        bool answered = reset_bus();
        write_byte(0x55);
        for (uint8_t at = 0; at < ROM_BYTES; at++) write_byte(rom[at]);
        write_byte(0xBE);
        for (uint8_t at = 0; at < PAD_BYTES; at++) pad[at] = answered ? read_byte() : 0;
        put_line(line, rom, pad);
        print(line);
    } while (from != 0 && ++sensors < MOST_SENSORS);
}
#else
// Answers as sensors give them: the data sheet's table of temperatures, its power-on value, a half-degree sensor, an answer that does
// not satisfy its CRC, and that of a data line shorted to ground. The first two numbers are of probes that exist.
static const struct { uint8_t rom[ROM_BYTES], pad[PAD_BYTES]; } rehearsal[] = {
    {{0x28, 0xFF, 0x64, 0x02, 0xE2, 0x7D, 0x3D, 0xB5}, {0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x70}},
    {{0x28, 0xE4, 0xFA, 0x2F, 0x57, 0x23, 0x0B, 0xAF}, {0x5E, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x6A}},
    {{0x28, 0x01, 0, 0, 0, 0, 0, 0x29}, {0x00, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xC8}},
    {{0x28, 0x02, 0, 0, 0, 0, 0, 0x70}, {0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xC3}},
    {{0x28, 0x03, 0, 0, 0, 0, 0, 0x47}, {0x90, 0xFC, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x4F}},
    {{0x28, 0x04, 0, 0, 0, 0, 0, 0xC2}, {0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C}},
    {{0x28, 0x05, 0, 0, 0, 0, 0, 0xF5}, {0xD0, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0xF5}},
    {{0x28, 0x06, 0, 0, 0, 0, 0, 0xAC}, {0, 0, 0, 0, 0, 0, 0, 0, 0}},
    {{0x10, 0x08, 0, 0, 0, 0, 0, 0x5A}, {0xAA, 0x00, 0xB4, 0xB9, 0xFF, 0xFF, 0x0C, 0x10, 0x18}},
};

static void print_all(void) {
    char line[LINE_BYTES];
    for (uint8_t at = 0; at < sizeof rehearsal / sizeof *rehearsal; at++) {
        put_line(line, rehearsal[at].rom, rehearsal[at].pad);
        print(line);
    }
}
#endif

void setup(void) {
    UBRR0H = 0;
    UBRR0L = (uint8_t)(F_CPU / 16 / BAUD - 1);
    UCSR0A = 0;
    UCSR0B = 1 << TXEN0;
    UCSR0C = (1 << UCSZ01) | (1 << UCSZ00);
}

void loop(void) {
    print_all();
    for (uint8_t second = 0; second < EVERY_SECONDS; second++) _delay_ms(1000);
}

#ifndef ARDUINO
int main(void) {
    setup();
    for (;;) loop();
}
#endif
