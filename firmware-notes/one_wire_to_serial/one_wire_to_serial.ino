// Prints every DS18B20 on one pin as "28-serial,temperature" lines at 9600 8N1, for seedclock.
// Not run on hardware by its authors. Needs the libraries OneWire and DallasTemperature.

#include <OneWire.h>
#include <DallasTemperature.h>

const uint8_t DATA_PIN = 2;                 // with about 4.7 kilo-ohm up to the supply
const unsigned long EVERY_MS = 10000UL;     // one line a probe every 10 seconds

OneWire bus(DATA_PIN);
DallasTemperature sensors(&bus);

void setup() {
  Serial.begin(9600);
  sensors.begin();
  sensors.setResolution(12);                // steps of 1/16 degree
}

// The sensor's number as Linux writes it: family, dash, the six serial bytes from the last to the first.
void printName(const uint8_t *address) {
  const char *digits = "0123456789abcdef";
  for (uint8_t at = 0; at <= 6; at++) {
    uint8_t value = address[at == 0 ? 0 : 7 - at];
    Serial.print(digits[value >> 4]);
    Serial.print(digits[value & 15]);
    if (at == 0) Serial.print('-');
  }
}

void loop() {
  static unsigned long last = 0UL - EVERY_MS;
  if (millis() - last < EVERY_MS) return;   // right also when millis() starts again from zero
  last += EVERY_MS;
  sensors.requestTemperatures();            // waits for the conversion, up to 750 ms
  DeviceAddress address;
  bus.reset_search();
  while (bus.search(address)) {
    if (OneWire::crc8(address, 7) != address[7] || address[0] != 0x28) continue;
    printName(address);
    Serial.print(',');
    Serial.println(sensors.getTempC(address), 4);  // -127 where the probe does not answer: seedclock knows it
  }
}
