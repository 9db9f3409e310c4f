/* compare.h - what `sluice compare` shows: tables, what to buy, a page for the customer. */
#ifndef SLUICE_TOOLS_COMPARE_H
#define SLUICE_TOOLS_COMPARE_H

#include <stdio.h>

#include "quote/compare_report.h"
#include "quote/verdict.h"
#include "replay_home.h"
#include "settings/settings.h"

struct comparison {
    const struct settings *settings; /* of the one load that is compared */
    const struct compare *compare;
    const struct compare_verdict *verdict;
    const struct result *report; /* the page only */
    enum compare_way reported;   /* whose report it is */
    const char *path;
    const struct days_report *days_report; /* what is doubtful with the days */
    enum home_water water;
    int left_out;    /* loads of the settings that are not compared */
    int32_t made_on; /* local day, since 1970 */
};

extern const char compare_help[];

void compare_print(const struct comparison *comparison);
void compare_write_page(const struct comparison *comparison, FILE *to);

/* ---- words for both ---------------------------------------------------------- */

const char *compare_way_name(enum compare_way way); /* "clock timer" */
/* What it changes of the heater: "1.8 kW 60° sensor"; nothing where it changes nothing. */
void compare_write_hardware(const struct comparison *comparison, enum compare_way way,
                            struct text *text);
/* Both: "clock timer 1.8 kW" */
void compare_write_name(const struct comparison *comparison, enum compare_way way,
                        struct text *text);
/* "the clock timer with an element of 1.8 kW" */
void compare_write_purchase(const struct comparison *comparison, enum compare_way way,
                            struct text *text);
const char *compare_load_title(const struct comparison *comparison);
void compare_write_span(const struct comparison *comparison, struct text *text);
/* "$1,234", "-$40" */
void compare_write_money(const struct comparison *comparison, double money, struct text *text);

typedef void compare_line(void *context, const char *text);

/* Sentences: what to buy and how sure; what speaks against others; what was assumed. */
void compare_tell_verdict(const struct comparison *comparison, compare_line *line, void *context);
void compare_tell_doubts(const struct comparison *comparison, compare_line *line, void *context);
void compare_tell_assumptions(const struct comparison *comparison, compare_line *line,
                              void *context);
/* Who quotes, how long it holds, and the tariff. */
void compare_tell_terms(const struct comparison *comparison, compare_line *line, void *context);
/* What days in minutes change against the steps as they are. */
void compare_tell_refined(const struct comparison *comparison, compare_line *line, void *context);
/* What the least that could be paid is, for the table that has it. */
void compare_tell_foreseen(const struct comparison *comparison, compare_line *line, void *context);
/* The price of each way, piece by piece. */
void compare_tell_items(const struct comparison *comparison, compare_line *line, void *context);
/* What tuning gave up. */
void compare_tell_tuning(const struct comparison *comparison, compare_line *line, void *context);
/* The lines of the settings file that a way of sluice would change; none: false. */
bool compare_tell_lines(const struct comparison *comparison, enum compare_way way,
                        compare_line *line, void *context);

#endif
