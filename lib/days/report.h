/* report.h - what is wrong or doubtful with the files of days, line by line. */
#ifndef SLUICE_DAYS_REPORT_H
#define SLUICE_DAYS_REPORT_H

#include "days/days.h"

/* Line 0: the file as a whole. */
void days_stop(struct days_report *report, const char *path, size_t line, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
void days_notice(struct days_report *report, const char *path, size_t line, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
