/* data_heater.h - the option --heater-in-data. */
#ifndef SLUICE_TOOLS_DATA_HEATER_H
#define SLUICE_TOOLS_DATA_HEATER_H

#include "days/heater.h"
#include "sluice/subcommand.h"

/* "22:00-06:00 3.6 kW" */
enum status data_heater_read(const char *word, struct days_heater *heater);

#endif
