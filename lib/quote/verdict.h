/* verdict.h - which way to buy, why, and how surely.
 *
 * What a way is worth in a year is what it saves on the bill less what it costs in hot
 * water that is missing or too cool, at the home's price for that: one spoilt shower more is
 * worth a little, many are worth much. Buying nothing is one of the offers. */
#ifndef SLUICE_QUOTE_VERDICT_H
#define SLUICE_QUOTE_VERDICT_H

#include "quote/ways.h"

struct compare_offer {
    bool there;
    double cost;                    /* to buy */
    double saves;                   /* of the bill a year, against always on; mean */
    double saves_least, saves_most; /* over the samples */
    double cold;          /* a year: what water that is colder than with always on counts */
    double payback_years; /* INFINITY: never */
    double net, net_least, net_most; /* over the quote's years, cold and purchase taken off */
    bool near;                       /* too close to what is advised to tell which is better */
};

enum compare_turn_by {
    TURN_NONE,   /* the advice stays */
    TURN_UNPAID, /* it does not pay for itself, and nothing else does */
    TURN_BEATEN, /* something else leaves more */
};

/* What would be bought in another home, and why not what is advised. */
struct compare_turn {
    enum compare_way first;
    enum compare_turn_by reason;
    double by; /* money that it lacks, or that the first leaves more */
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

/* Sluice with the same hardware, if by other settings. */
bool compare_same_purchase(const struct compare *compare, enum compare_way a, enum compare_way b);

void compare_judge(const struct compare *compare, struct compare_verdict *verdict);

#endif
