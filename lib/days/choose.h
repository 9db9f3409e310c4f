/* choose.h - which channels stand for what: by the options, or by what the files say. */
#ifndef SLUICE_DAYS_CHOOSE_H
#define SLUICE_DAYS_CHOOSE_H

#include "days/channels.h"
#include "days/found.h"

struct days_role_choice {
    int part[DAYS_CHANNELS_MAX]; /* of the channels */
    int count;                   /* 0: nothing stands for it */
    bool named;                  /* by the options, not by the file */
    enum days_unit unit;         /* of all parts; DAYS_UNIT_BY_HEADER: each has its own */
};

struct days_choice {
    struct days_role_choice role[DAYS_ROLE_COUNT];
    enum days_fate fate[DAYS_CHANNELS_MAX];
};

/* False: stops are in the report: a channel that is not there, several for one role, one
 * that could matter and that nobody knows, a unit that is not known. */
bool days_choose(struct days_choice *choice, const struct days_channels *channels,
                 const char *const paths[], const struct days_options *options,
                 struct days_report *report);

#endif
