/* verdict.h - which way to buy, why, and how surely. */
#ifndef SLUICE_QUOTE_VERDICT_H
#define SLUICE_QUOTE_VERDICT_H

#include "quote/ways.h"

struct compare_offer {
    bool there;
    bool hot;     /* showers as good as always on, or at most three a year worse */
    double cost;  /* to buy */
    double saves; /* a year, against always on; mean */
    double saves_least, saves_most; /* over the samples */
    double payback_years;           /* INFINITY: never */
    double net;                     /* over the quote's years, purchase taken off; mean */
};

enum compare_turn_by {
    TURN_NONE,   /* the advice stays */
    TURN_COLD,   /* showers get too cold with what is advised */
    TURN_UNPAID, /* it does not pay for itself, and nothing else does */
    TURN_BEATEN, /* something else leaves more */
};

/* What would be bought in another home, and why not what is advised. */
struct compare_turn {
    enum compare_way first;
    enum compare_turn_by reason;
    double by;             /* money that it lacks, or that the first leaves more */
    double spoilt, always; /* showers a year, with what is advised and with always on */
};

enum compare_sure {
    SURE_ALIKE,     /* the order holds in all samples and in all variants */
    SURE_THIS_HOME, /* in all samples, but not in all variants */
    SURE_NOT,       /* too close to call */
};

struct compare_verdict {
    struct compare_offer offer[WAY_COUNT]; /* those that can be bought; always on costs nothing */
    enum compare_way buy, second;          /* by net; buy may be WAY_ALWAYS_ON: nothing pays */
    double lead, lead_least, lead_most;    /* net of the first over the second */
    int first_in;                          /* samples in which it came first */
    struct compare_turn with[COMPARE_VARIANTS];
    enum compare_sure sure; /* as far as these days tell */
};

bool compare_same_purchase(enum compare_way a, enum compare_way b);

void compare_judge(const struct compare *compare, struct compare_verdict *verdict);

#endif
