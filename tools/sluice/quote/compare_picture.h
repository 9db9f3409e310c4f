/* compare_picture.h - the pictures of the customer's page, each an SVG that stands in it. */
#ifndef SLUICE_TOOLS_COMPARE_PICTURE_H
#define SLUICE_TOOLS_COMPARE_PICTURE_H

#include "compare.h"

/* What each way saves a year, with the spread over the samples, beside what could be. */
void compare_draw_savings(const struct comparison *comparison, FILE *to);
/* Where each way's heat comes from. */
void compare_draw_sources(const struct comparison *comparison, FILE *to);
/* The reported way, month by month and through an ordinary day. */
void compare_draw_months(const struct comparison *comparison, FILE *to);
void compare_draw_day(const struct comparison *comparison, FILE *to);

#endif
