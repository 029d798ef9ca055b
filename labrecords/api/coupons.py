"""Coupons: logged, split, moved, amended; one of them with its whole life."""

from rest_framework import serializers

from labrecords.actions import coupons
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.fields import Code, Whole
from labrecords.api.rows import Rows, posts
from labrecords.models import Coupon, SubstrateLot

# Of many that are logged at once, marks and positions are lists; state and parent are given by the verbs.
OF_MANY = tuple(name for name in coupons.AMENDABLE if name not in ("mark", "position"))


class CouponRow(Row):
    class Meta:
        model = Coupon
        fields = stored_fields(Coupon, "number")


class MembershipRow(serializers.Serializer):
    batch = serializers.CharField(source="batch.code")
    role = serializers.CharField()


class CouponPage(CouponRow):
    """A coupon with its pieces, its batches and its runs."""

    children = serializers.SlugRelatedField("code", many=True, read_only=True)
    batches = MembershipRow(many=True, read_only=True, source="memberships")
    runs = serializers.SlugRelatedField("code", many=True, read_only=True)


class LogCoupons(RowBody):
    lot = Code(SubstrateLot)
    count = Whole(low=1, high=500, required=False)
    marks = serializers.ListField(child=serializers.CharField(allow_blank=True), required=False)
    positions = serializers.ListField(child=serializers.CharField(allow_blank=True), required=False)

    class Meta:
        model = Coupon
        fields = OF_MANY


class Piece(RowBody):
    class Meta:
        model = Coupon
        fields = coupons.AMENDABLE


class SplitCoupon(Body):
    pieces = Piece(many=True)
    consume = serializers.BooleanField(required=False)


class MoveCoupon(RowBody):
    state = serializers.CharField()

    class Meta:
        model = Coupon
        fields = ()


class AmendCoupon(RowBody):
    class Meta:
        model = Coupon
        fields = coupons.AMENDABLE


class CouponViews(Rows):
    queryset = Coupon.objects.select_related("lot", "project", "parent", "created_by")
    page_prefetch = ("children", "memberships__batch", "runs")
    serializer_class = CouponRow
    one_class = CouponPage
    filters = {
        "search": lambda queryset, words: queryset.found_by(words),
        "state": "state",
        "lot": "lot__code__iexact",
        "project": "project__code__iexact",
        "batch": "memberships__batch__code__iexact",
        "parent": "parent__code__iexact",
    }

    def find(self, name):
        return coupons.find(name, by=self.request.user)

    create = posts(coupons.log, LogCoupons, CouponPage, many=True)
    split = posts(coupons.split, SplitCoupon, CouponPage, row="coupon", many=True)
    move = posts(coupons.move, MoveCoupon, CouponPage, row="coupon", status=200)
    amend = posts(coupons.amend, AmendCoupon, CouponPage, row="coupon", status=200)
