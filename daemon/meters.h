/* meters.h - asking the meters in time, and the one reading that comes of it. */
#ifndef SLUICE_DAEMON_METERS_H
#define SLUICE_DAEMON_METERS_H

#include "site.h"

void meters_begin(struct site *site);
void meters_ask(struct site *site); /* posts the reads that are due */
void meters_answer(struct site *site, const struct bus_answer *answer);
struct mono meters_next(const struct site *site);
void meters_settle(struct site *site); /* the reading as of now */

#endif
