/* meter_answers.h - which answer of a meter is good. */
#ifndef SLUICE_DAEMON_METER_ANSWERS_H
#define SLUICE_DAEMON_METER_ANSWERS_H

#include "site.h"

void meter_answer(struct site *site, const struct bus_answer *answer);

#endif
