// What a 1-Wire temperature sensor answers, as a line of text. Nothing here touches the board, so that it can be tried anywhere.
//
// Facts: DS18B20 data sheet (scratchpad, 1/16 degree, power-on value); DS18S20 data sheet (family 10, 1/2 degree); CRC of both
// (polynomial x^8 + x^5 + x^4 + 1) in Maxim application note 27.
#ifndef SEEDCLOCK_READING_H
#define SEEDCLOCK_READING_H

#include <stdbool.h>
#include <stdint.h>

#define ROM_BYTES 8
#define PAD_BYTES 9
#define FAMILY_HALF_DEGREES 0x10
// "28-0123456789ab,-55.0000*XX" CR LF and a zero.
#define LINE_BYTES 32

// CRC-8/MAXIM: "123456789" gives A1.
static uint8_t crc8(const uint8_t *bytes, uint8_t count) {
    uint8_t crc = 0;
    while (count--) {
        crc ^= *bytes++;
        for (uint8_t bit = 0; bit < 8; bit++) crc = (crc & 1) ? (uint8_t)((crc >> 1) ^ 0x8C) : (uint8_t)(crc >> 1);
    }
    return crc;
}

// The temperature in sixteenths of a degree; false where the answer is damaged, or is that of a data line shorted to ground,
// whose zeros satisfy the CRC.
static bool sixteenths_of(uint8_t family, const uint8_t *pad, int16_t *sixteenths) {
    uint8_t any = 0;
    for (uint8_t at = 0; at < PAD_BYTES; at++) any |= pad[at];
    if (any == 0 || crc8(pad, PAD_BYTES - 1) != pad[PAD_BYTES - 1]) return false;
    int16_t raw = (int16_t)((uint16_t)pad[1] << 8 | pad[0]);
    *sixteenths = family == FAMILY_HALF_DEGREES ? (int16_t)(raw * 8) : raw;
    return true;
}

static char hex_digit(uint8_t value, char ten) {
    return (char)(value < 10 ? '0' + value : ten + value - 10);
}

// The sensor's number as Linux writes it: family, dash, the six serial bytes from the last to the first. Writes 15 letters.
static char *put_name(char *to, const uint8_t *rom) {
    for (uint8_t at = 0; at < 7; at++) {
        uint8_t value = rom[at == 0 ? 0 : 7 - at];
        *to++ = hex_digit(value >> 4, 'a');
        *to++ = hex_digit(value & 15, 'a');
        if (at == 0) *to++ = '-';
    }
    return to;
}

// "-10.1250": four digits hold a sixteenth exactly.
static char *put_celsius(char *to, int16_t sixteenths) {
    uint16_t size = (uint16_t)(sixteenths < 0 ? -(int32_t)sixteenths : sixteenths);
    if (sixteenths < 0) *to++ = '-';
    uint16_t whole = size / 16;
    if (whole >= 1000) *to++ = (char)('0' + whole / 1000);
    if (whole >= 100) *to++ = (char)('0' + whole / 100 % 10);
    if (whole >= 10) *to++ = (char)('0' + whole / 10 % 10);
    *to++ = (char)('0' + whole % 10);
    *to++ = '.';
    uint16_t rest = (uint16_t)(size % 16 * 625);
    for (uint16_t place = 1000; place > 0; place /= 10) *to++ = (char)('0' + rest / place % 10);
    return to;
}

// The whole line: name, comma, temperature or "nan", star, CRC of all before the star, line end.
static void put_line(char *line, const uint8_t *rom, const uint8_t *pad) {
    char *end = put_name(line, rom);
    int16_t sixteenths;
    *end++ = ',';
    if (sixteenths_of(rom[0], pad, &sixteenths)) {
        end = put_celsius(end, sixteenths);
    } else {
        *end++ = 'n';
        *end++ = 'a';
        *end++ = 'n';
    }
    uint8_t crc = crc8((const uint8_t *)line, (uint8_t)(end - line));
    *end++ = '*';
    *end++ = hex_digit(crc >> 4, 'A');
    *end++ = hex_digit(crc & 15, 'A');
    *end++ = '\r';
    *end++ = '\n';
    *end = 0;
}

#endif
