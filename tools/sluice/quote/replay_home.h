/* replay_home.h - a home for the loads of the settings.
 *
 * The settings say what the loads take, not what is behind them; that is assumed from
 * their kind, or told by options, and always said. A load with a thermostat heats water;
 * a set-point without one charges a car; any other takes its power while it is on. */
#ifndef SLUICE_TOOLS_REPLAY_HOME_H
#define SLUICE_TOOLS_REPLAY_HOME_H

#include "quote/quote.h"
#include "replay_days.h"
#include "settings/settings.h"
#include "sluice/options.h"
#include "trial/home.h"

enum { HOME_OPTION_ROWS = 5, DAYS_AND_HOME_ROWS = DAYS_OPTION_ROWS + HOME_OPTION_ROWS + 1 };

struct home_words {
    const char *tank, *set, *water, *inlet; /* "315 l", "65 C", "m", "l" or "160 l", "18 C" */
    bool south; /* mains water is coldest in August; else where summer time says so */
};

/* Who tells how much hot water is taken; the later before the earlier. */
enum home_water { HOME_WATER_USUAL, HOME_WATER_QUOTE, HOME_WATER_OPTION, HOME_WATER_DAYS };

/* Rows for options_read of both, and the end of rows. `refined`: days are made finer by these
 * options, too. */
void days_and_home_rows(struct days_words *days, struct home_words *home, bool refined,
                        struct option_row rows[static DAYS_AND_HOME_ROWS]);

/* `with_draws`: the days tell when water is drawn. */
enum home_water home_water(const struct home_words *words, const struct quote_settings *quote,
                           bool with_draws);

/* Pointers into `settings` stay. */
enum status home_make(const struct home_words *words, const struct settings *settings,
                      const struct quote_settings *quote, bool with_draws, struct trial_home *home);

/* Says on standard error, and in the report of the days, where their sun is another season's
 * than the home's mains water. */
void home_notice_season(const struct trial_home *home, const struct days *days, const char *path,
                        struct days_report *report);

/* In words, one line each: what was taken for granted. */
void home_assumptions(const struct trial_home *home, const struct settings *settings,
                      enum home_water water, void (*line)(void *context, const char *text),
                      void *context);

#endif
