# Pages, worker and scheduler run from this one image; docker-compose.yml says how.
FROM python:3.13-slim-bookworm

RUN apt-get update --quiet \
    && apt-get install --yes --quiet --no-install-recommends \
        libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --uid 1000 --create-home bittern \
    && install -d -o bittern -g bittern /data

WORKDIR /app
ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 BITTERN_STATE=/data
COPY requirements/base.txt requirements/base.txt
RUN pip install --no-cache-dir --require-hashes --requirement requirements/base.txt
COPY . .

USER bittern
VOLUME /data
EXPOSE 8000
CMD ["uvicorn", "shop.asgi:application", "--host", "0.0.0.0", "--port", "8000", "--workers", "2", \
     "--timeout-graceful-shutdown", "3", "--no-server-header", "--no-access-log"]
