/* meters.h - asking the meters in time. */
#ifndef SLUICE_DAEMON_METERS_H
#define SLUICE_DAEMON_METERS_H

#include "site.h"

void meters_begin(struct site *site);
void meters_ask(struct site *site); /* posts the reads that are due */
struct mono meters_next(const struct site *site);

#endif
