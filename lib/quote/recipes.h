/* recipes.h - how a way may be run on its hardware: hours of a timer, boosts of a diverter,
 * settings of sluice. */
#ifndef SLUICE_QUOTE_RECIPES_H
#define SLUICE_QUOTE_RECIPES_H

#include "quote/ways.h"

enum { RECIPE_CONFIGURED, RECIPE_LEARNT }; /* of sluice */

/* Writes the k-th recipe of the way for fit->hardware. False: there is no k-th. Those of
 * sluice may not suit its rules; the first is the settings as configured. */
bool recipe_write(const struct compare *compare, enum compare_way way, int k,
                  struct compare_fit *fit);

/* Of sluice, the k-th of many more, none of which depends on how start and daily floors are
 * configured. False: there is no k-th. */
bool recipe_write_tuning(const struct compare *compare, int k, struct compare_fit *fit);

/* The settings as configured, made to suit the hardware. */
void recipe_adapt(const struct compare *compare, const struct hardware *hardware,
                  struct load_settings *load);

/* What learning wants to know of the tank, where the settings do not tell it. */
void recipe_learn(const struct compare *compare, struct load_settings *load);

/* The floor of each day; NULL: there is none. */
struct floor_settings *recipe_daily_floor(struct load_settings *load);

/* Whether the rules take the settings. */
bool recipe_suits(const struct compare *compare, const struct compare_fit *fit);

#endif
