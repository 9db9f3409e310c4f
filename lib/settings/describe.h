/* describe.h - sentences that are wrapped, and the notices that follow the loads. */
#ifndef SLUICE_SETTINGS_DESCRIBE_H
#define SLUICE_SETTINGS_DESCRIBE_H

#include "settings.h"

enum { SENTENCE_SIZE = 512 };

/* Indented by two, wrapped at 80 columns; what is wrapped hangs by four, or by `hanging`. */
void sentence(FILE *to, const char *format, ...) __attribute__((format(printf, 2, 3)));
void sentence_hung(FILE *to, int hanging, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A quantity in a sentence; lives as long as the block. */
#define AMOUNT(unit, value) amount_text((char[TEXT_SHORT_SIZE]){0}, (unit), (value))
const char *amount_text(char buffer[static TEXT_SHORT_SIZE], enum quantity_kind unit,
                        int64_t value);

/* To whom the meter is given. */
void describe_gateway(FILE *to, const struct gateway_settings *gateway);

/* What cannot be promised, and what to look after. */
void describe_notices(FILE *to, const struct settings *settings);

#endif
