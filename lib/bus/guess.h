/* guess.h - which line is likely, and whether what is heard on it is Modbus. Pure. */
#ifndef SLUICE_BUS_GUESS_H
#define SLUICE_BUS_GUESS_H

#include "bus/bus.h"
#include "frame/listen.h"

/* Lines by likelihood: sets baud, parity and stop bits; false past the last. */
bool guess_line(unsigned number, struct bus_settings *settings);

enum guess { GUESS_MORE, GUESS_RIGHT, GUESS_WRONG };

/* Of what a listener has counted since it began on this line. */
enum guess guess_judge(const struct listen_counts *counts);

/* Units by likelihood, 1..247 each once; 0 past the last. */
uint8_t guess_unit(unsigned number);

/* How many of the first units nearly all meters are found among. */
enum { GUESS_LIKELY_UNITS = 16 };

#endif
