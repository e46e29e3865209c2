/* The arithmetic of the 8-bit board's sketch, on this machine. */
#include <stdio.h>

#include "reading.h"

int main(void) {
    const uint8_t rom[ROM_BYTES] = {0x28, 0xE4, 0xFA, 0x2F, 0x57, 0x23, 0x0B, 0xAF};
    const uint8_t example[] = {0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00};
    uint8_t pad[PAD_BYTES] = {0, 0, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0};
    char line[LINE_BYTES];
    printf("%02X %02X\n", crc8((const uint8_t *)"123456789", 9), crc8(example, sizeof example));
    for (int raw = -32768; raw < 32768; raw += 16) {
        pad[0] = (uint8_t)(raw & 255);
        pad[1] = (uint8_t)(raw >> 8 & 255);
        pad[8] = crc8(pad, 8);
        put_line(line, rom, pad);
        fputs(line, stdout);
    }
    return 0;
}
