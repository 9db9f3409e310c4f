/* made_days.h - days made by a test from its own idea of them. */
#ifndef SLUICE_TESTS_MADE_DAYS_H
#define SLUICE_TESTS_MADE_DAYS_H

#include "days/halves.h"
#include "table.h"

/* What a household used and a roof gave in a step that begins at this local second of the
 * day; `day` counts from 0. */
typedef void made_step(int day, int32_t second, double *use_w, double *solar_w);

/* `count` local days from `first` on. */
struct days made_days(const struct zone *zone, struct date first, int count, int32_t step_s,
                      made_step *step);

/* 300 W, 1.5 kW from 18:00 to 21:00, each a little different from day to day, and 4 kW of sun
 * as half a sine from 6:00 to 18:00, less on every third day. */
void made_ordinary(int day, int32_t second, double *use_w, double *solar_w);

#endif
