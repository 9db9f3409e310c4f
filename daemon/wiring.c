/* wiring.c - opening the buses and outputs that the settings in force name. */
#include "wiring.h"

#include "jobs.h"
#include "meters.h"

bool wiring_open_buses(struct site *site, struct trouble *trouble)
{
    for (uint8_t k = 0; k < site->settings->bus_count; k++) {
        site->buses[k] = bus_new(&site->settings->buses[k], site->answers, trouble);
        if (!site->buses[k])
            return false;
        site->bus_moved[k] = site->now.mono;
    }
    meters_begin(site);
    return true;
}

bool wiring_open_outputs(struct site *site, struct trouble *trouble)
{
    struct output_doors doors = job_doors(site);
    site->outputs = outputs_new(site->settings->outputs, site->settings->rules.load_count,
                                JOB_OUTPUTS, &doors, trouble);
    return site->outputs != NULL;
}
