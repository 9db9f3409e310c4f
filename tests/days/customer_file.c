#include "customer_file.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "table.h"

void customer_begin(struct customer_file *file)
{
    *file = (struct customer_file){.options = {.zone = &sydney}};
}

void customer_read(struct customer_file *file, bool (*read)(const struct days_file *),
                   const char *text, size_t length)
{
    strcpy(file->path, "/tmp/sluice-customer-XXXXXX");
    int to = mkstemp(file->path);
    ck_assert_int_ge(to, 0);
    ck_assert_int_eq(write(to, text, length), (ssize_t)length);
    close(to);
    const struct days_file given = {.path = file->path,
                                    .options = &file->options,
                                    .channels = &file->channels,
                                    .found = &file->found,
                                    .report = &file->report};
    file->read = read(&given);
    unlink(file->path);
}

void customer_free(struct customer_file *file)
{
    days_channels_free(&file->channels);
}

const struct days_channel *customer_channel(const struct customer_file *file, const char *name)
{
    for (int k = 0; k < file->channels.count; k++)
        if (strcmp(file->channels.channel[k].name, name) == 0)
            return &file->channels.channel[k];
    return NULL;
}

static bool tells(const struct customer_file *file, bool stop, size_t line, const char *wanted)
{
    char place[96];
    snprintf(place, sizeof(place), line ? "%s:%zu" : "%s", file->path, line);
    for (int k = 0; k < file->report.count; k++)
        if (file->report.stops[k] == stop && strcmp(file->report.item[k].place, place) == 0 &&
            strstr(file->report.item[k].text, wanted))
            return true;
    return false;
}

bool customer_stops(const struct customer_file *file, size_t line, const char *wanted)
{
    return tells(file, true, line, wanted);
}

bool customer_notices(const struct customer_file *file, size_t line, const char *wanted)
{
    return tells(file, false, line, wanted);
}

bool customer_says(const struct customer_file *file, const char *wanted)
{
    for (int k = 0; k < file->found.how_count; k++)
        if (strstr(file->found.how[k].text, wanted))
            return true;
    return false;
}

const char *customer_told(const struct customer_file *file)
{
    static char all[700];
    const struct trouble *first = &file->report.item[0];
    snprintf(all, sizeof(all), "%s: %s", file->report.count ? first->place : "nothing told",
             file->report.count ? first->text : "");
    return all;
}
