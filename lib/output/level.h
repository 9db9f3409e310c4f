/* level.h - between what a load shall be and the value that a device holds.
 * Pure. Coils and lines hold 0 or 1, registers their own values, topics 0 or 1
 * or an amount in W or mA. */
#ifndef SLUICE_OUTPUT_LEVEL_H
#define SLUICE_OUTPUT_LEVEL_H

#include "output/output.h"

/* The output carries an amount, not just on and off. */
bool level_is_amount(const struct output_settings *settings);

/* Of a contactor: the value for on and off, the normally closed contact minded. */
int32_t level_switch(const struct output_settings *settings, bool on);
bool level_is_on(const struct output_settings *settings, int32_t value);

/* Of a set-point: the greatest value that is not more than `level_w`. */
int32_t level_amount(const struct output_settings *settings, int32_t level_w);
int32_t level_amount_w(const struct output_settings *settings, int32_t value);

#endif
