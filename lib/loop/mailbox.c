/* mailbox.c - a ring of fixed size behind a mutex, and an eventfd as its flag.
 *
 * Threads that share nothing but mailboxes cannot race on anything else. The
 * flag is raised by the first item and lowered by taking the last one, under
 * the same mutex as the ring, so that it says exactly "there is post": an epoll
 * that is level-triggered on it never misses an item and never spins on an
 * empty box. Everything is allocated at birth. */
#include "loop/mailbox.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct mailbox {
    pthread_mutex_t mutex;
    int flag;
    size_t capacity, item_size;
    size_t first, count;
    unsigned char items[];
};

struct mailbox *mailbox_new(size_t capacity, size_t item_size)
{
    size_t bytes;
    if (__builtin_mul_overflow(capacity, item_size, &bytes) ||
        __builtin_add_overflow(bytes, sizeof(struct mailbox), &bytes)) {
        return NULL;
    }
    struct mailbox *box = calloc(1, bytes);
    if (!box) {
        return NULL;
    }
    box->capacity = capacity;
    box->item_size = item_size;
    box->flag = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    if (box->flag < 0) {
        free(box);
        return NULL;
    }
    pthread_mutex_init(&box->mutex, NULL);
    return box;
}

void mailbox_free(struct mailbox *box)
{
    if (!box) {
        return;
    }
    pthread_mutex_destroy(&box->mutex);
    close(box->flag);
    free(box);
}

/* The counter only ever goes 0 -> 1 -> 0, so neither call can block or fail. */
static void raise_flag(const struct mailbox *box)
{
    eventfd_write(box->flag, 1);
}

static void lower_flag(const struct mailbox *box)
{
    eventfd_t ignored;
    eventfd_read(box->flag, &ignored);
}

static void *slot(struct mailbox *box, size_t index)
{
    return box->items + (index % box->capacity) * box->item_size;
}

static bool append(struct mailbox *box, const void *item)
{
    if (box->count == box->capacity) {
        return false;
    }
    memcpy(slot(box, box->first + box->count), item, box->item_size);
    if (box->count++ == 0) {
        raise_flag(box);
    }
    return true;
}

bool mailbox_put(struct mailbox *box, const void *item)
{
    pthread_mutex_lock(&box->mutex);
    bool room = append(box, item);
    pthread_mutex_unlock(&box->mutex);
    return room;
}

bool mailbox_put_last(struct mailbox *box, const void *item,
                      bool (*same)(const void *waiting, const void *item))
{
    size_t k = 0;
    pthread_mutex_lock(&box->mutex);
    while (k < box->count && !same(slot(box, box->first + k), item)) {
        k++;
    }
    bool replaced = k < box->count;
    if (replaced) {
        memcpy(slot(box, box->first + k), item, box->item_size);
    }
    bool room = replaced || append(box, item);
    pthread_mutex_unlock(&box->mutex);
    return room;
}

bool mailbox_take(struct mailbox *box, void *item)
{
    pthread_mutex_lock(&box->mutex);
    bool post = box->count > 0;
    if (post) {
        memcpy(item, slot(box, box->first), box->item_size);
        box->first = (box->first + 1) % box->capacity;
        if (--box->count == 0) {
            lower_flag(box);
        }
    }
    pthread_mutex_unlock(&box->mutex);
    return post;
}

void mailbox_wait(struct mailbox *box)
{
    struct pollfd flag = {.fd = box->flag, .events = POLLIN};
    while (poll(&flag, 1, -1) < 0 && errno == EINTR) {
    }
}

int mailbox_fd(const struct mailbox *box)
{
    return box->flag;
}
