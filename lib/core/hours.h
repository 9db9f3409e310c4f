/* hours.h - hours of the week: "mon-fri 09:00-15:00".
 *
 * A span begins on the given weekdays and may run past midnight ("22:00-06:00"
 * begins on its weekday and ends on the next day). Spans are local time: in an
 * hour that exists twice both are inside. No span at all means always open. */
#ifndef SLUICE_CORE_HOURS_H
#define SLUICE_CORE_HOURS_H

#include "text.h"
#include "zone.h"

enum { HOURS_SPANS_MAX = 8 };

struct hours_span {
    int32_t from_s, to_s; /* second of the day; to_s <= from_s: ends on the next day */
    uint8_t weekdays;     /* bit 0 is Monday */
};

struct hours {
    uint8_t count;
    struct hours_span span[HOURS_SPANS_MAX];
};

bool hours_open(const struct hours *hours, const struct local *local);

/* The first moment after `wall` at which hours_open changes, or `limit` if it
 * does not before. */
struct wall hours_next_edge(const struct hours *hours, const struct zone *zone, struct wall wall,
                            struct wall limit);

/* Milliseconds open in [from, to). */
int64_t hours_open_ms(const struct hours *hours, const struct zone *zone, struct wall from,
                      struct wall to);

/* The hours in which both hold; no span where they never do. False: they would take more spans
 * than there is room for. */
bool hours_both(const struct hours *a, const struct hours *b, struct hours *both);

/* "09:00-15:00", "mon-fri 09:00-15:00", "sat,sun 10:00-16:00". */
bool hours_span_parse(const char *text, struct hours_span *span, struct trouble *trouble);
void hours_write(const struct hours *hours, struct text *text);

/* "daily", "mon-fri", "sat,sun", "mon,wed,fri-sun" */
bool weekdays_parse(const char *text, uint8_t *weekdays, struct trouble *trouble);
void weekdays_write(uint8_t weekdays, struct text *text);

#endif
