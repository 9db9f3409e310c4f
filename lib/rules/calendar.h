/* calendar.h - section 6: what holds by the clock until the next edge. */
#ifndef SLUICE_RULES_CALENDAR_H
#define SLUICE_RULES_CALENDAR_H

#include "turn.h"

void keep_calendar(struct turn *turn);
/* Renews what the calendar says of one floor after its period has changed. */
void calendar_floor(struct turn *turn, uint16_t index, uint8_t floor);

#endif
