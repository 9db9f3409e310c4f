/* customer_file.h - a customer's file written by a test, and read into channels. */
#ifndef SLUICE_TESTS_CUSTOMER_FILE_H
#define SLUICE_TESTS_CUSTOMER_FILE_H

#include "days/format.h"
#include "days/found.h"

struct customer_file {
    char path[64];
    struct days_options options; /* Sydney's */
    struct days_channels channels;
    struct days_found found;
    struct days_report report;
    bool read;
};

/* Reads the text, adding to what is in `file` from files before. */
void customer_read(struct customer_file *file, bool (*read)(const struct days_file *),
                   const char *text, size_t length);
void customer_begin(struct customer_file *file);
void customer_free(struct customer_file *file);

/* NULL: there is none of this name. */
const struct days_channel *customer_channel(const struct customer_file *file, const char *name);
bool customer_stops(const struct customer_file *file, size_t line, const char *wanted);
bool customer_notices(const struct customer_file *file, size_t line, const char *wanted);
bool customer_says(const struct customer_file *file, const char *wanted); /* how it was read */
/* What was told, for messages of failing checks. */
const char *customer_told(const struct customer_file *file);

#endif
