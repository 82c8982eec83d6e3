FROM python:3.12-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1 DATA_DIR=/data
RUN useradd --system --uid 10001 --home-dir /nonexistent --shell /usr/sbin/nologin backledger \
    && install -d -o backledger -m 0700 /data

WORKDIR /app
COPY requirements.txt ./
COPY .constraints/python3.12.txt ./.constraints/
RUN pip install -r requirements.txt -c .constraints/python3.12.txt
COPY . .

USER backledger
VOLUME /data
EXPOSE 8000
HEALTHCHECK --interval=30s --timeout=10s --start-period=90s \
    CMD ["python", "-c", "import urllib.request as r; r.urlopen('http://127.0.0.1:8000/healthz', timeout=9)"]
CMD ["python", "manage.py", "start", "--host", "0.0.0.0"]
