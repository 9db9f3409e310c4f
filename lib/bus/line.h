/* line.h - one question at a time over a port that may be gone. Blocks; used by
 * the bus's worker only. */
#ifndef SLUICE_BUS_LINE_H
#define SLUICE_BUS_LINE_H

#include "bus/quality.h"
#include "bus/request.h"

struct line;

/* Opens nothing yet, and never where the settings say to listen. `settings` is copied; `quality`
 * outlives the line. */
struct line *line_new(const struct bus_settings *settings, struct quality *quality,
                      struct trouble *trouble);
void line_free(struct line *line);

/* Asks, waits, judges; opens the port first where it is closed and due. When it
 * returns the line is quiet: nothing of this exchange can meet the next one.
 * Answers BUS_DOWN or BUS_BACKING_OFF without touching the wire where backing off
 * (backoff.h) says so. */
void line_exchange(struct line *line, struct exchange *exchange, struct mono now);

/* How a unit backs off: see backoff.h. Before its first question. */
void line_limit_rests(struct line *line, uint8_t unit, int64_t grace_ms, int64_t rest_most_ms);

/* The unit has been silent for so long that it counts as lost. */
bool line_unit_lost(const struct line *line, uint8_t unit);

#endif
