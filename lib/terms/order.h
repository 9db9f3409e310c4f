/* order.h - what people write when they order something.
 *
 *   on 2 h              on until 17:00           on until 2026-01-20 17:00
 *   off                 off 2 h                  off until 2026-01-20 17:00
 *   auto
 *
 * A time of the day means the next time that the clock shows it. Everything ends
 * at an absolute moment from here on, so that an order told twice does no more. */
#ifndef SLUICE_TERMS_ORDER_H
#define SLUICE_TERMS_ORDER_H

#include "command.h"
#include "core/trouble.h"
#include "core/zone.h"

enum { ORDER_LONGEST_ON_MS = MS_PER_DAY, ORDER_LONGEST_TEST_MS = 5 * MS_PER_MIN };
#define ORDER_LONGEST_HOLIDAY_MS (366 * (int64_t)MS_PER_DAY)

/* Fills `command` but for its load. False: `trouble` quotes what was wrong. A run
 * by hand is at most ORDER_LONGEST_ON_MS long. */
bool order_parse(const char *text, const struct zone *zone, struct moment now,
                 struct command *command, struct trouble *trouble);

/* What a test orders of a load: "on 90 s", "off 90 s", or "end". Fills `command` but for its load;
 * at most ORDER_LONGEST_TEST_MS long. */
bool order_parse_test(const char *text, struct moment now, struct command *command,
                      struct trouble *trouble);

/* "until 2026-01-20 17:00", or "end" (wall.ms 0). At most ORDER_LONGEST_HOLIDAY_MS ahead. */
bool order_parse_holiday(const char *text, const struct zone *zone, struct moment now,
                         struct wall *back, struct trouble *trouble);

#endif
