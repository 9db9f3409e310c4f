/* show.h - figures as a person reads them at a glance: rounded, with a unit.
 *
 * Settings are written exactly (core/quantity.h); what was measured is not worth
 * five digits. */
#ifndef SLUICE_TOOLS_SHOW_H
#define SLUICE_TOOLS_SHOW_H

#include <stdint.h>

#include "core/text.h"
#include "core/zone.h"

void show_count(struct text *text, int64_t count);       /* "12,345" */
void show_power(struct text *text, int64_t power_w);     /* "840 W", "3.59 kW" */
void show_energy(struct text *text, int64_t energy_mwh); /* "5.31 kWh" */
void show_kwh(struct text *text, int64_t energy_mwh);    /* "5.31" */
void show_duration(struct text *text, int64_t ms);       /* "2 h 30 min", "45 s", "3 d 4 h" */
void show_age(struct text *text, int64_t ms);            /* "0.4 s", "25 s", "3 min" */
void show_date(struct text *text, struct date date);     /* "Wed 14 Jan 2026" */
void show_clock(struct text *text, int32_t second);      /* "17:00" */

/* "2026-01-14T17:00:00+11:00" as local time; false: it is none. */
bool show_read_time(const char *iso, struct local *local);

#endif
