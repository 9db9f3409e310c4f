/* sentence.h - sentences for people, wrapped to the width of a screen. */
#ifndef SLUICE_SETTINGS_SENTENCE_H
#define SLUICE_SETTINGS_SENTENCE_H

#include <stdio.h>

#include "core/quantity.h"
#include "core/text.h"

enum { SENTENCE_SIZE = 512 };

/* Indented by two, wrapped at 80 columns; what is wrapped hangs by four, or by `hanging`. */
void sentence(FILE *to, const char *format, ...) __attribute__((format(printf, 2, 3)));
void sentence_hung(FILE *to, int hanging, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* How many bytes of `text` fill a line of at most `columns` characters, whole words where
 * one fits. */
size_t sentence_line(const char *text, size_t columns);

/* A quantity in a sentence; lives as long as the block. */
#define AMOUNT(unit, value) amount_text((char[TEXT_SHORT_SIZE]){0}, (unit), (value))
const char *amount_text(char buffer[static TEXT_SHORT_SIZE], enum quantity_kind unit,
                        int64_t value);

#endif
