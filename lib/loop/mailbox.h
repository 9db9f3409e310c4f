/* mailbox.h - bounded post between threads: plain values, never pointers to
 * shared things. Putting never blocks; a full box refuses. The file
 * descriptor is readable while there is post (level-triggered). */
#ifndef SLUICE_LOOP_MAILBOX_H
#define SLUICE_LOOP_MAILBOX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct mailbox;

/* NULL where memory or descriptors are out. */
struct mailbox *mailbox_new(size_t capacity, size_t item_size);
void mailbox_free(struct mailbox *box);

bool mailbox_put(struct mailbox *box, const void *item);
/* The same; an item that still waits and for which `same` holds is replaced by it, in its
 * place: of a matter only the last is told, and none can crowd out the others. */
bool mailbox_put_last(struct mailbox *box, const void *item,
                      bool (*same)(const void *waiting, const void *item));
bool mailbox_take(struct mailbox *box, void *item); /* false: empty */
void mailbox_wait(struct mailbox *box);             /* until there is post */
int mailbox_fd(const struct mailbox *box);

#endif
