/* data_loaded.h - days from a customer's files, and what was understood of these. */
#ifndef SLUICE_TOOLS_DATA_LOADED_H
#define SLUICE_TOOLS_DATA_LOADED_H

#include "days/found.h"
#include "days/heater.h"

struct data_loaded {
    const char *const *paths;
    int path_count;
    const struct zone *zone;
    double array_kwp; /* 0: not known */
    struct days days; /* no steps: none came out */
    struct days_found found;
    struct days_report report;
    /* The heater that was taken out of the use; `of` 0: none was. */
    struct days_heater heater;
    struct days_heater_taken taken;
};

#endif
