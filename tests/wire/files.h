/* Reading the vector files: a whole file, a folder's files in order of name, the first lines of a file. */
#ifndef COT_TESTS_WIRE_FILES_H
#define COT_TESTS_WIRE_FILES_H

#include <dirent.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../main.h"

struct file {
    char path[2048];
    char *bytes; /* NUL-terminated beyond its length */
    size_t len;
};

static inline void file_read(const char *path, struct file *out)
{
    memset(out, 0, sizeof *out);
    snprintf(out->path, sizeof out->path, "%s", path);
    FILE *f = fopen(path, "rb");
    ck_assert_msg(f != NULL, "%s: cannot be opened", path);
    ck_assert_int_eq(fseek(f, 0, SEEK_END), 0);
    long size = ftell(f);
    ck_assert_msg(size >= 0, "%s: no size", path);
    rewind(f);
    out->len = (size_t)size;
    out->bytes = malloc(out->len + 1);
    ck_assert_ptr_nonnull(out->bytes);
    ck_assert_uint_eq(fread(out->bytes, 1, out->len, f), out->len);
    out->bytes[out->len] = '\0';
    fclose(f);
}

static inline int visible(const struct dirent *e)
{
    return e->d_name[0] != '.';
}

/* Calls `one` for each file of tests/`dir`; fails when there are fewer than `least`, so that a lost folder is seen. */
static inline void each_file(const char *dir, size_t least, void (*one)(const struct file *f))
{
    char path[512];
    struct dirent **list;
    snprintf(path, sizeof path, "%s/%s", COT_TESTS_DIR, dir);
    int n = scandir(path, &list, visible, alphasort);
    ck_assert_msg(n >= (int)least, "%s: %d files, at least %zu wanted", path, n, least);
    for (int i = 0; i < n; i++) {
        char name[1024];
        struct file f;
        snprintf(name, sizeof name, "%s/%s", path, list[i]->d_name);
        file_read(name, &f);
        one(&f);
        free(f.bytes);
        free(list[i]);
    }
    free(list);
}

/* Takes the first line of *p off; the line is NUL-terminated in place. */
static inline char *take_line(char **p)
{
    char *line = *p, *lf = strchr(line, '\n');
    ck_assert_msg(lf != NULL, "a line is missing after: %s", line);
    *lf = '\0';
    *p = lf + 1;
    return line;
}

static inline json_t *file_json(const struct file *f)
{
    json_error_t error;
    json_t *root = json_loadb(f->bytes, f->len, JSON_REJECT_DUPLICATES, &error);
    ck_assert_msg(root != NULL, "%s: %s", f->path, error.text);
    return root;
}

/* A text member that must be there. */
static inline const char *text_of(const struct file *f, const json_t *o, const char *key)
{
    const char *s = json_string_value(json_object_get(o, key));
    ck_assert_msg(s != NULL, "%s: no text \"%s\"", f->path, key);
    return s;
}

#endif
