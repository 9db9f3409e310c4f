/* small_file.h - a file of the kernel that holds a number or two. */
#ifndef SLUICE_SENSOR_SMALL_FILE_H
#define SLUICE_SENSOR_SMALL_FILE_H

#include <stddef.h>

#include "core/setting.h"
#include "core/trouble.h"

enum { SMALL_FILE_MAX = 256 };

/* Its first bytes, terminated. False: `trouble` names the file and says why. */
bool small_file_read(const char *path, char text[static SMALL_FILE_MAX], struct trouble *trouble);

/* Of a setting `file`, where it is there: a whole path. False: it said what is wrong. */
bool small_file_check(const char *path, setting_say *say, void *context);

/* `expected`: what the setting `file` should be instead of `path`. */
void small_file_wrong(const char *expected, const char *path, setting_say *say, void *context);

/* The number that the text begins with, decimal, and nothing but white space behind it. */
bool small_file_number(const char *path, const char *text, double *number, struct trouble *trouble);

/* A decimal number and nothing else: no hexadecimal, no exponent, no infinity. */
bool plain_number(const char *text, double *number);

#endif
