/* naive_inside.h - between naive.c and naive_floors.c only. */
#ifndef SLUICE_TESTS_NAIVE_INSIDE_H
#define SLUICE_TESTS_NAIVE_INSIDE_H

#include "naive.h"

#define NEVER INT64_MAX

/* Floors of one load: periods, met, due, cheap. */
void naive_floors(struct naive *naive, int load);

/* Until starts per hour allow another. */
int64_t naive_starts_wait(const struct naive *naive, int load);

#endif
