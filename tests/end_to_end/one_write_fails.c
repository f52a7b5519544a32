/* Preloaded into a build: the FAIL_AT-th call that writes under FAIL_UNDER fails with FAIL_AS.
 *
 * Counts what changes a disk in any thread and any library, so that Python's own writes and those
 * of the database behind it are treated alike. The call that failed is named in the file FAIL_TOLD. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

static atomic_int count;

static void tell(const char *told, const char *line) {
    int file = syscall(SYS_openat, AT_FDCWD, told, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    syscall(SYS_write, file, line, strlen(line));
    syscall(SYS_close, file);
}

/* Where a path that may hang on an open folder leads; the name of the open file without a path. */
static void whole(char *out, int folder, const char *path) {
    size_t length = 0;
    out[0] = 0;
    if (!path || (path[0] != '/' && folder != AT_FDCWD)) {
        char link[40];
        snprintf(link, sizeof link, "/proc/self/fd/%d", folder);
        ssize_t got = readlink(link, out, PATH_MAX - 2);
        length = got > 0 ? (size_t)got : 0;
        out[length] = 0;
        if (path) out[length++] = '/';
    }
    if (path) snprintf(out + length, PATH_MAX - length, "%s", path);
}

/* Whether this call is the one that fails. */
static int fails(const char *call, int folder, const char *path) {
    const char *under = getenv("FAIL_UNDER"), *told = getenv("FAIL_TOLD");
    char place[2 * PATH_MAX], line[2 * PATH_MAX + 40];
    int before = errno;
    if (!under || !told) return 0;
    whole(place, folder, path);
    if (strncmp(place, under, strlen(under)) == 0
        && atomic_fetch_add(&count, 1) + 1 == atoi(getenv("FAIL_AT"))) {
        snprintf(line, sizeof line, "%s %s", call, place + strlen(under));
        tell(told, line);
        errno = atoi(getenv("FAIL_AS"));
        return 1;
    }
    errno = before;
    return 0;
}

/* With FAIL_AT=0 nothing fails and the number of calls is told at the end. */
__attribute__((destructor)) static void end(void) {
    const char *at = getenv("FAIL_AT"), *told = getenv("FAIL_TOLD");
    char line[20];
    if (!at || !told || atoi(at) || !count) return;
    snprintf(line, sizeof line, "%d", count);
    tell(told, line);
}

#define CALL(kind, name, given, passed, at, path)                                                  \
    kind name given {                                                                              \
        static kind(*next) given;                                                                  \
        if (!next) *(void **)&next = dlsym(RTLD_NEXT, #name);                                      \
        return fails(#name, at, path) ? -1 : next passed;                                          \
    }

#define OPEN(name, given, passed, at)                                                              \
    int name given {                                                                               \
        static int(*next) given;                                                                   \
        mode_t mode = 0;                                                                           \
        if (!next) *(void **)&next = dlsym(RTLD_NEXT, #name);                                      \
        if (flags & (O_CREAT | O_TMPFILE)) {                                                       \
            va_list more;                                                                          \
            va_start(more, flags);                                                                 \
            mode = va_arg(more, mode_t);                                                           \
            va_end(more);                                                                          \
        }                                                                                          \
        if ((flags & (O_WRONLY | O_RDWR | O_CREAT)) && fails(#name, at, path)) return -1;          \
        return next passed;                                                                        \
    }

OPEN(open, (const char *path, int flags, ...), (path, flags, mode), AT_FDCWD)
OPEN(open64, (const char *path, int flags, ...), (path, flags, mode), AT_FDCWD)
OPEN(openat, (int at, const char *path, int flags, ...), (at, path, flags, mode), at)
OPEN(openat64, (int at, const char *path, int flags, ...), (at, path, flags, mode), at)
CALL(ssize_t, write, (int fd, const void *data, size_t size), (fd, data, size), fd, NULL)
CALL(ssize_t, pwrite, (int fd, const void *data, size_t size, off_t to), (fd, data, size, to), fd, NULL)
CALL(ssize_t, pwrite64, (int fd, const void *data, size_t size, off64_t to), (fd, data, size, to), fd, NULL)
CALL(ssize_t, writev, (int fd, const struct iovec *parts, int n), (fd, parts, n), fd, NULL)
CALL(ssize_t, sendfile, (int fd, int from, off_t *at, size_t size), (fd, from, at, size), fd, NULL)
CALL(ssize_t, sendfile64, (int fd, int from, off64_t *at, size_t size), (fd, from, at, size), fd, NULL)
CALL(ssize_t, copy_file_range, (int from, off64_t *a, int fd, off64_t *b, size_t size, unsigned flags), (from, a, fd, b, size, flags), fd, NULL)
CALL(int, fsync, (int fd), (fd), fd, NULL)
CALL(int, fdatasync, (int fd), (fd), fd, NULL)
CALL(int, ftruncate, (int fd, off_t size), (fd, size), fd, NULL)
CALL(int, ftruncate64, (int fd, off64_t size), (fd, size), fd, NULL)
CALL(int, mkdir, (const char *path, mode_t mode), (path, mode), AT_FDCWD, path)
CALL(int, rename, (const char *path, const char *to), (path, to), AT_FDCWD, path)
CALL(int, unlink, (const char *path), (path), AT_FDCWD, path)
CALL(int, unlinkat, (int at, const char *path, int flags), (at, path, flags), at, path)
CALL(int, rmdir, (const char *path), (path), AT_FDCWD, path)
