#!/bin/sh
# Prints a bench sheet to PDF and pictures, to be looked at: tests/print.sh SHEET.html FOLDER
# Needs chromium, and pdfinfo and pdftoppm of poppler-utils.
set -eu
sheet=$(readlink -f "$1")
folder=$2
mkdir -p "$folder"
for size in A4 letter; do
    sed "s/@page { margin/@page { size: $size; margin/" "$sheet" > "$folder/$size.html"
    chromium --headless --no-sandbox --disable-gpu --no-pdf-header-footer \
        --print-to-pdf="$folder/$size.pdf" "file://$(readlink -f "$folder/$size.html")" 2> /dev/null
    echo "$size: $(pdfinfo "$folder/$size.pdf" | sed -n 's/^Pages: *//p') page(s)"
    pdftoppm -r 110 -gray -png "$folder/$size.pdf" "$folder/$size"
done
