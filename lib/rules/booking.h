/* booking.h - sections 1 and 2: what has happened since the last turn, and the day. */
#ifndef SLUICE_RULES_BOOKING_H
#define SLUICE_RULES_BOOKING_H

#include "turn.h"

void book_time(struct turn *turn);
void book_day(struct turn *turn);
void look_back(struct turn *turn);

#endif
