/* table.h - tables as loggers, inverters and retailers write them: a line for each step,
 * or for each day with its steps side by side; streams in columns of their own, or named
 * by one. */
#ifndef SLUICE_DAYS_TABLE_H
#define SLUICE_DAYS_TABLE_H

#include "days/format.h"

bool days_table_read(const struct days_file *file);

#endif
