/* serial_line.h - how a serial line talks: its parity, and a line in words.
 *
 * The same for a bus, the gateway's second port and what a meter leaves the factory with. */
#ifndef SLUICE_CORE_SERIAL_LINE_H
#define SLUICE_CORE_SERIAL_LINE_H

#include "core/setting.h"
#include "core/text.h"

enum parity { PARITY_NONE, PARITY_EVEN, PARITY_ODD };

extern const struct setting_choice parity_choices[];

const char *parity_word(uint8_t parity); /* "none", "even" or "odd" */
char parity_letter(uint8_t parity);      /* as in "8N1" */
bool parity_read(const char *word, uint8_t *parity);

/* "9600 baud, no parity", "19200 baud, even parity, 2 stop bits" */
void serial_line_write(int32_t baud, uint8_t parity, uint8_t stop_bits, struct text *text);

/* The rows of a serial line's settings: fields baud, parity, stop_bits of `type`. */
#define SERIAL_LINE_ROWS(type)                                                                     \
    {.key = "baud",                                                                                \
     .kind = SETTING_QUANTITY,                                                                     \
     .unit = QUANTITY_COUNT,                                                                       \
     SETTING_AT(type, baud),                                                                       \
     .least = 1200,                                                                                \
     .greatest = 115200,                                                                           \
     .initial = "9600",                                                                            \
     .text = "Serial: speed, the same for every unit on the line."},                               \
        {.key = "parity",                                                                          \
         .kind = SETTING_CHOICE,                                                                   \
         SETTING_AT(type, parity),                                                                 \
         .initial = "none",                                                                        \
         .choices = parity_choices,                                                                \
         .text = "Serial: parity."},                                                               \
    {                                                                                              \
        .key = "stop_bits", .kind = SETTING_QUANTITY, .unit = QUANTITY_COUNT,                      \
        SETTING_AT(type, stop_bits), .least = 1, .greatest = 2, .initial = "1",                    \
        .text = "Serial: stop bits, 1 or 2; most meters use 1."                                    \
    }

#endif
