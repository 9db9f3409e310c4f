/* sentence.c - a sentence is broken where a word ends, and counted in characters, not
 * bytes: "°C" takes two columns. */
#include "sentence.h"

#include <stdarg.h>

size_t sentence_line(const char *text, size_t columns)
{
    size_t at = 0, blank = 0;
    for (; text[at] && columns > 0; columns--) {
        if (text[at] == ' ')
            blank = at;
        do
            at++;
        while ((text[at] & 0xc0) == 0x80);
    }
    return text[at] == '\0' || text[at] == ' ' || blank == 0 ? at : blank;
}

static void write_wrapped(FILE *to, int hanging, const char *format, va_list arguments)
{
    enum { COLUMNS = 80, INDENT = 2 };
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add_list(&text, format, arguments);
    int indent = INDENT;
    for (const char *at = buffer; *at; indent = hanging) {
        size_t length = sentence_line(at, (size_t)(COLUMNS - indent));
        fprintf(to, "%*s%.*s\n", indent, "", (int)length, at);
        at += length;
        while (*at == ' ')
            at++;
    }
}

void sentence(FILE *to, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    write_wrapped(to, 4, format, arguments);
    va_end(arguments);
}

void sentence_hung(FILE *to, int hanging, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    write_wrapped(to, hanging, format, arguments);
    va_end(arguments);
}

const char *amount_text(char buffer[static TEXT_SHORT_SIZE], enum quantity_kind unit, int64_t value)
{
    struct text text = text_in(buffer, TEXT_SHORT_SIZE);
    quantity_write(unit, value, &text);
    return buffer;
}
