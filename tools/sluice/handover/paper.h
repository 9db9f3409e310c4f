/* paper.h - what is handed over, as pages of A4 in HTML or as Markdown: one text for both.
 *
 * Pages need no other file, no script and no network. */
#ifndef SLUICE_TOOLS_PAPER_H
#define SLUICE_TOOLS_PAPER_H

#include <stdbool.h>
#include <stdio.h>

struct paper {
    FILE *to;
    bool plain; /* Markdown */
    int pages;  /* begun so far */
};

void paper_begin(struct paper *paper, const char *title);
void paper_end(struct paper *paper);

/* Begins a sheet of its own. `aside` stands small beside the title. */
void paper_page(struct paper *paper, const char *title, const char *aside);
void paper_heading(struct paper *paper, const char *text);
void paper_say(struct paper *paper, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* What must not be overlooked, in a frame. */
void paper_warn(struct paper *paper, const char *title, const char *text);

void paper_list_begin(struct paper *paper);
void paper_item(struct paper *paper, const char *format, ...) __attribute__((format(printf, 2, 3)));
void paper_list_end(struct paper *paper);

/* Rows of `columns` cells, NULL-ended; the first is the head. */
void paper_table_begin(struct paper *paper, const char *const head[]);
void paper_row(struct paper *paper, const char *const cells[]);
void paper_table_end(struct paper *paper);

/* As it is, character by character. */
void paper_verbatim(struct paper *paper, const char *bytes, size_t size);

/* A label to cut out: what it is for, and its text. */
void paper_labels_begin(struct paper *paper);
void paper_label(struct paper *paper, const char *head, const char *text);
void paper_labels_end(struct paper *paper);

#endif
