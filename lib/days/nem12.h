/* nem12.h - interval data of Australian meters: AEMO, Meter Data File Format
 * Specification NEM12 & NEM13, v1.06 (2017).
 *
 * Streams become channels by their suffix: E ("E1") imported, B exported; other energy is
 * of unknown role. Times are Australian Eastern Standard Time all year round, wherever
 * the meter is. */
#ifndef SLUICE_DAYS_NEM12_H
#define SLUICE_DAYS_NEM12_H

#include "days/format.h"

bool days_nem12_is(const unsigned char *start, size_t length);
bool days_nem12_read(const struct days_file *file);

#endif
