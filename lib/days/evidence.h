/* evidence.h - what figures say of what they are, whatever their names say. */
#ifndef SLUICE_DAYS_EVIDENCE_H
#define SLUICE_DAYS_EVIDENCE_H

#include "days/days.h"

enum days_evidence { DAYS_SAYS_NO, DAYS_SAYS_YES, DAYS_SAYS_NEITHER };

/* Are "consumption" and "generation" what a grid meter imported and exported? Retailers
 * name them so; then nothing is imported while there is something to export. */
enum days_evidence days_says_meter(const float *use_w, const float *sun_w, size_t count);

/* Is it the other way round: does what should be import take nothing by night, and what
 * should be export (or sun) flow then? */
bool days_says_exchanged(const float *taken_w, const float *given_w, size_t count,
                         struct wall first, int32_t step_s, const struct zone *zone);

#endif
