/* assemble.h - days made of chosen channels. */
#ifndef SLUICE_DAYS_ASSEMBLE_H
#define SLUICE_DAYS_ASSEMBLE_H

#include "days/channels.h"

/* Chooses a channel (or the sum of those that an option names) for each role, converts
 * them to W and litres a step, makes their steps the same, works out the household's use
 * and the sun, fills gaps as the options say, and says in `found` what was used. Takes
 * the values out of `channels` where it can. False: a stop is in the report, and nothing
 * in `days`. */
bool days_assemble(struct days_channels *channels, const char *const paths[],
                   const struct days_options *options, struct days *days, struct days_found *found,
                   struct days_report *report);

#endif
