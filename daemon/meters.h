/* meters.h - asking the meters in time. */
#ifndef SLUICE_DAEMON_METERS_H
#define SLUICE_DAEMON_METERS_H

#include "site.h"

void meters_begin(struct site *site);
/* A meter that has just begun goes on from what was read of it before over another bus. */
void meter_go_on(struct meter_watch *meter, const struct meter_watch *was);
void meters_ask(struct site *site); /* posts the reads that are due */
struct mono meters_next(const struct site *site);

#endif
