/* compare.c - two trees side by side, key by key; order and comments are not values. */
#include "compare.h"

#include <stdio.h>
#include <string.h>

#include "core/text.h"
#include "edit.h"

struct comparing {
    void (*each)(void *context, const char *key, const char *before, const char *after);
    void *context;
    char key[EDIT_KEY_MAX];
};

static void write_node(const struct node *node, struct text *text)
{
    if (node->kind == NODE_TEXT) {
        for (const char *c = node->text; *c; c++)
            text_add(text, "%c", (unsigned char)*c < ' ' || *c == 0x7f ? '?' : *c);
        return;
    }
    text_add(text, node->kind == NODE_MAP ? "{" : "[");
    for (const struct node *child = node->first; child; child = child->next) {
        if (child->key)
            text_add(text, "%s: ", child->key);
        write_node(child, text);
        text_add(text, child->next ? ", " : "");
    }
    text_add(text, node->kind == NODE_MAP ? "}" : "]");
}

static void report(const struct comparing *comparing, const struct node *before,
                   const struct node *after)
{
    char was[EDIT_VALUE_MAX], is[EDIT_VALUE_MAX];
    struct text was_text = text_in(was, sizeof(was)), is_text = text_in(is, sizeof(is));
    if (before)
        write_node(before, &was_text);
    if (after)
        write_node(after, &is_text);
    comparing->each(comparing->context, comparing->key, before ? was : NULL, after ? is : NULL);
}

static void compare(struct comparing *comparing, const struct node *before,
                    const struct node *after);

/* The child at that place of the key, which is one word longer meanwhile. */
static void compare_below(struct comparing *comparing, const char *word, const struct node *before,
                          const struct node *after)
{
    size_t length = strlen(comparing->key);
    snprintf(comparing->key + length, sizeof(comparing->key) - length, "%s%s", length ? "." : "",
             word);
    if (before && after)
        compare(comparing, before, after);
    else
        report(comparing, before, after);
    comparing->key[length] = '\0';
}

static void compare_maps(struct comparing *comparing, const struct node *before,
                         const struct node *after)
{
    for (const struct node *child = before->first; child; child = child->next)
        compare_below(comparing, child->key, child, node_child(after, child->key));
    for (const struct node *child = after->first; child; child = child->next)
        if (!node_child(before, child->key))
            compare_below(comparing, child->key, NULL, child);
}

static void compare_lists(struct comparing *comparing, const struct node *before,
                          const struct node *after)
{
    const struct node *a = before->first, *b = after->first;
    for (int place = 1; a || b; place++) {
        char word[12];
        snprintf(word, sizeof(word), "%d", place);
        compare_below(comparing, word, a, b);
        a = a ? a->next : NULL;
        b = b ? b->next : NULL;
    }
}

static void compare(struct comparing *comparing, const struct node *before,
                    const struct node *after)
{
    if (before->kind != after->kind)
        report(comparing, before, after);
    else if (before->kind == NODE_MAP)
        compare_maps(comparing, before, after);
    else if (before->kind == NODE_LIST)
        compare_lists(comparing, before, after);
    else if (strcmp(before->text, after->text) != 0)
        report(comparing, before, after);
}

void compare_trees(const struct tree *before, const struct tree *after, compare_each *each,
                   void *context)
{
    struct comparing comparing = {.each = each, .context = context};
    compare(&comparing, before->root, after->root);
}

bool compare_took(bool read, struct tree *tree, struct settings_troubles *troubles,
                  struct trouble *trouble)
{
    bool sound = read && troubles->count == 0;
    if (read && !sound)
        document_free(tree);
    if (!sound && troubles->count > 0)
        *trouble = troubles->item[0];
    else if (!sound)
        trouble_set(trouble, tree->file, "no memory");
    settings_troubles_free(troubles);
    *troubles = (struct settings_troubles){0};
    return sound;
}

bool settings_compare(const char *before_path, const char *after_path,
                      void (*each)(void *context, const char *key, const char *before,
                                   const char *after),
                      void *context, struct trouble *trouble)
{
    struct settings_troubles troubles = {0};
    struct tree before, after;
    if (!compare_took(document_read(before_path, &before, &troubles), &before, &troubles, trouble))
        return false;
    bool ok =
        compare_took(document_read(after_path, &after, &troubles), &after, &troubles, trouble);
    if (ok) {
        compare_trees(&before, &after, each, context);
        document_free(&after);
    }
    document_free(&before);
    return ok;
}
